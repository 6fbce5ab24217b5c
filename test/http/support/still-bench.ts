import type { BenchControl, BenchNews } from '../../../server/http/deps.ts'
import type { BenchView } from '../../../src/contract/http-bench.ts'

/** A bench for tests of the HTTP side alone: it notes what it is told, and says what the test sets. */
export interface StillBench extends BenchControl {
  readonly calls: string[]
  set(changes: Partial<Omit<BenchView, 'driver'>>): void
  tell(news: BenchNews): void
}

export function stillBench(): StillBench {
  let view: Omit<BenchView, 'driver'> = {
    state: 'none',
    port: null,
    text: 'Choose a port.',
    rig: null,
    counters: null,
    recorderTrouble: null,
    cautionsAcknowledged: false,
    running: null,
    sequence: null,
    sequenceMotorId: null,
    sequenceFitId: null,
    shortTest: null,
  }
  const calls: string[] = []
  const listeners = new Set<(news: BenchNews) => void>()
  const note = (call: string) => {
    calls.push(call)
    return Promise.resolve()
  }
  const tell = (news: BenchNews) => {
    for (const listener of listeners) listener(news)
  }
  return {
    calls,
    tell,
    set(changes) {
      view = { ...view, ...changes }
      tell({ type: 'changed' })
    },
    view: () => view,
    listen(listener) {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
    ports: async () => ({ ports: [], trouble: null }),
    connect: port => note(`connect ${port}`),
    reconnect: () => note('reconnect'),
    disconnect: () => note('disconnect'),
    acknowledgeCautions: () => void note('acknowledge'),
    startTest: test => note(`test ${test.kind}`),
    startSequence: motor => note(`sequence ${motor}`),
    actOnSequence: act => note(`act ${act.act}`),
    planShortTest: () => ({
      refused: 'no rig is connected; connect one at the bench',
      drivenSec: null,
      positions: null,
      prediction: [],
      warnings: [],
    }),
    startShortTest: test => note(`short test ${test.what.kind}`),
    actOnShortTest: act => note(`short test ${act}`),
    stop: reason => note(`stop: ${reason}`),
    close: () => note('close'),
  }
}
