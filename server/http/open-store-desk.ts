import { InputFault, MissingFault, WorkFault } from '../../src/base/faults.ts'
import { spawnWorker } from '../workers/spawn.ts'
import type { AskStore } from './ask-store.ts'
import type { FaultKind, StoreReply } from './store-worker.ts'

const FAULTS: Readonly<Record<FaultKind, new (message: string) => Error>> = {
  missing: MissingFault,
  input: InputFault,
  work: WorkFault,
}

export interface StoreDesk {
  readonly ask: AskStore
  close(): Promise<void>
}

interface Asked {
  resolve(answer: never): void
  reject(error: Error): void
}

/** A worker that holds the store and answers one question after another. */
export function openStoreDesk(storeFile: string): StoreDesk {
  const worker = spawnWorker('store-worker', { workerData: { storeFile } })
  const asked = new Map<number, Asked>()
  let next = 1
  let gone: Error | null = null

  const fail = (error: Error) => {
    gone = error
    for (const one of asked.values()) one.reject(error)
    asked.clear()
  }
  worker.on('message', (reply: StoreReply) => {
    const one = asked.get(reply.id)
    asked.delete(reply.id)
    if ('answer' in reply) one?.resolve(reply.answer as never)
    else one?.reject(new FAULTS[reply.fault](reply.message))
  })
  worker.on('error', error => fail(new WorkFault(`the store failed: ${error.message}`)))
  const ended = new Promise<void>(resolve => {
    worker.on('exit', () => {
      fail(gone ?? new WorkFault('the store is closed'))
      resolve()
    })
  })

  return {
    ask: (name, input) =>
      new Promise((resolve, reject) => {
        if (gone) return reject(gone)
        const id = next++
        asked.set(id, { resolve: resolve as Asked['resolve'], reject })
        worker.postMessage({ id, name, input })
      }),
    async close() {
      worker.postMessage('close')
      await ended
    },
  }
}
