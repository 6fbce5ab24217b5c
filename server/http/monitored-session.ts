import type { BenchSession, RunRequest } from '../session/bench-session.ts'

/** Fast enough for a curve, slow enough to cost nothing. */
const MONITOR_HZ = 1000

/**
 * A session that shows live readings whenever nothing else is going on: monitoring gives way to runs
 * and measurements and comes back after them.
 */
export interface MonitoredSession extends BenchSession {
  /** Begins to show readings; called once after the connection and after each resumption. */
  watch(): void
}

export function monitoredSession(
  inner: BenchSession,
  onRun: (request: RunRequest) => void,
): MonitoredSession {
  let busy = 0
  let closed = false
  const rateHz = Math.max(
    ...inner.rig.ratesHz.filter(rate => rate <= MONITOR_HZ),
    inner.rig.ratesHz[0] ?? MONITOR_HZ,
  )
  /** One thing after the other: the rig streams one rate at a time. */
  let queue: Promise<unknown> = Promise.resolve()
  const inTurn = <T>(work: () => Promise<T>): Promise<T> => {
    const turn = queue.then(work, work)
    queue = turn.catch(() => {})
    return turn
  }
  const watch = () => {
    void inTurn(async () => {
      if (busy === 0 && !closed && inner.state === 'ready') await inner.monitor(rateHz)
    }).catch(() => {
      // No readings are shown; the next run or connection says why.
    })
  }
  const apart = async <T>(work: () => Promise<T>): Promise<T> => {
    busy += 1
    try {
      await inTurn(async () => {
        if (inner.state === 'monitoring') await inner.idle()
      })
      return await work()
    } finally {
      busy -= 1
      watch()
    }
  }
  return {
    get describe() {
      return inner.describe
    },
    get state() {
      return inner.state
    },
    get rig() {
      return inner.rig
    },
    get counters() {
      return inner.counters
    },
    get runId() {
      return inner.runId
    },
    listen: listener => inner.listen(listener),
    acknowledgeCautions: () => inner.acknowledgeCautions(),
    run: request =>
      apart(() => {
        onRun(request)
        return inner.run(request)
      }),
    measure: (durationSec, rate) => apart(() => inner.measure(durationSec, rate)),
    monitor: rate => apart(() => inner.monitor(rate)),
    idle: () => inner.idle(),
    // A stop waits for nothing, least of all for its turn.
    stop: reason => inner.stop(reason),
    async resume() {
      await inner.resume()
      watch()
    },
    async close() {
      closed = true
      await inner.close()
    },
    watch,
  }
}
