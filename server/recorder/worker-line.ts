import type { TransferListItem, Worker } from 'node:worker_threads'
import { InputFault, WorkFault } from '../../src/base/faults.ts'
import type { FromWorker, ToWorker } from './messages.ts'

/** The line to the recorder's worker: every message is answered once, in order. */
export interface WorkerLine {
  /** The worker has started; rejects where it cannot open the store. */
  readonly ready: Promise<FromWorker>
  /** Rejects with the worker's fault. */
  ask(message: ToWorker, transfer?: readonly TransferListItem[]): Promise<FromWorker>
}

interface Asker {
  resolve(answer: FromWorker): void
  reject(error: Error): void
}

export function workerLine(worker: Worker): WorkerLine {
  const waiting: Asker[] = []
  let broken: WorkFault | null = null

  const expect = () =>
    new Promise<FromWorker>((resolve, reject) => {
      if (broken) reject(broken)
      else waiting.push({ resolve, reject })
    })
  const breakOff = (why: string) => {
    broken ??= new WorkFault(`the recorder stopped unexpectedly: ${why}`)
    for (const asker of waiting.splice(0)) asker.reject(broken)
  }
  worker.on('message', (answer: FromWorker) => {
    const asker = waiting.shift()
    if (answer.type !== 'failed') asker?.resolve(answer)
    else asker?.reject(new (answer.isBadInput ? InputFault : WorkFault)(answer.text))
  })
  worker.on('error', error => breakOff(error.message))
  worker.on('exit', () => breakOff('its thread ended'))
  return {
    ready: expect(),
    ask: (message, transfer = []) => {
      const answer = expect()
      if (!broken) worker.postMessage(message, transfer)
      return answer
    },
  }
}
