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
  const given: ArrayBuffer[][] = []
  const waiting: { resolve(answer: FromWorker): void; reject(error: Error): void }[] = []
  const settled = () => new Promise<void>(resolve => setImmediate(resolve))
  return {
    asked,
    ready: Promise.resolve({ type: 'ready' }),
    ask: message => {
      // As it crosses to a thread: what stands in memory that is handed back is nobody's any more.
      asked.push(structuredClone(message))
      given.push(memoryOf(message))
      return new Promise((resolve, reject) => waiting.push({ resolve, reject }))
    },
    answer: () => {
      const spare = given.shift()!
      for (const buffer of spare) new Uint8Array(buffer).fill(0x55)
      waiting.shift()!.resolve({ type: 'stored', spare })
      return settled()
    },
    refuse: text => {
      given.shift()
      waiting.shift()!.reject(new Error(text))
      return settled()
    },
  }
}

function memoryOf(message: ToWorker): ArrayBuffer[] {
  if (!('entries' in message)) return []
  return message.entries.flatMap(entry =>
    entry.type === 'samples' ? [entry.block.counts.buffer as ArrayBuffer] : [],
  )
}
