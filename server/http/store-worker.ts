import { parentPort, workerData } from 'node:worker_threads'
import { InputFault, MissingFault } from '../../src/base/faults.ts'
import { openStore } from '../store/open-store.ts'
import { answer } from './answers/answer-table.ts'
import { createLibrary } from './answers/create-library.ts'
import type { QuestionName } from './ask-store.ts'

export interface StoreQuestion {
  readonly id: number
  readonly name: QuestionName
  readonly input: unknown
}

export type StoreReply =
  | { readonly id: number; readonly answer: unknown }
  | { readonly id: number; readonly fault: FaultKind; readonly message: string }

/** Whose fault it was that there is no answer. */
export type FaultKind = 'missing' | 'input' | 'work'

const faultKind = (error: unknown): FaultKind =>
  error instanceof MissingFault ? 'missing' : error instanceof InputFault ? 'input' : 'work'

const { storeFile } = workerData as { storeFile: string }
const store = openStore(storeFile, { now: Date.now })
const library = createLibrary(store)

parentPort?.on('message', (question: StoreQuestion | 'close') => {
  if (question === 'close') {
    store.close()
    parentPort?.close()
    return
  }
  const { id, name, input } = question
  const reply = (message: StoreReply) => parentPort?.postMessage(message)
  answerLater(name, input).then(
    found => reply({ id, answer: found }),
    error => {
      const message = error instanceof Error ? error.message : String(error)
      reply({ id, fault: faultKind(error), message })
    },
  )
})

async function answerLater(name: QuestionName, input: unknown): Promise<unknown> {
  return answer(library, name, input as never)
}
