import { performance } from 'node:perf_hooks'
import { setTimeout as sleep } from 'node:timers/promises'
import type { CheckClock } from './check-line.ts'

export function realClock(): CheckClock {
  let oversleptMs = 0
  return {
    nowMs: () => performance.now(),
    async sleep(ms) {
      const from = performance.now()
      await sleep(ms)
      oversleptMs = Math.max(oversleptMs, performance.now() - from - ms)
    },
    takeOversleptMs() {
      const taken = oversleptMs
      oversleptMs = 0
      return taken
    },
  }
}
