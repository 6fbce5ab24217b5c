import type { FromWorker, ToWorker } from '../../server/recorder/messages.ts'
import type { WorkerLine } from '../../server/recorder/worker-line.ts'

/** A worker whose answers the test gives, one by one. */
export interface FakeLine extends WorkerLine {
  readonly asked: ToWorker[]
  answer(): Promise<void>
  refuse(text: string): Promise<void>
}

export function fakeLine(): FakeLine {
  const asked: ToWorker[] = []
  const waiting: { resolve(answer: FromWorker): void; reject(error: Error): void }[] = []
  const settled = () => new Promise<void>(resolve => setImmediate(resolve))
  return {
    asked,
    ready: Promise.resolve({ type: 'ready' }),
    ask: message => {
      asked.push(message)
      return new Promise((resolve, reject) => waiting.push({ resolve, reject }))
    },
    answer: () => {
      waiting.shift()!.resolve({ type: 'stored' })
      return settled()
    },
    refuse: text => {
      waiting.shift()!.reject(new Error(text))
      return settled()
    },
  }
}
