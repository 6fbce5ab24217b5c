import type { PracticeEncoder } from './bench.ts'

/** Timer that stamps encoder edges. */
const TICK_SEC = 1e-7

/** An incremental encoder read once a sample period. */
export interface EncoderReader {
  /** Speed over the window that ends now, rad/s. Call once a period. */
  readSpeed(timeSec: number, angle: number, speed: number): number
  /** Fills the window as if the shaft had turned at this speed until now. */
  prime(timeSec: number, angle: number, speed: number): void
  /** Whole counts of angle. */
  readCounts(angle: number): number
  readonly windowSec: number
}

export function createEncoder(encoder: PracticeEncoder, periodSec: number): EncoderReader {
  const periods = Math.max(1, Math.round(encoder.windowSec / periodSec))
  const size = periods + 1
  const edgeCount = new Float64Array(size)
  const edgeTime = new Float64Array(size)
  const radPerCount = (2 * Math.PI) / encoder.countsPerTurn
  let slot = 0
  let counts = Number.NaN
  let lastEdge = 0
  let lastTime = 0
  let previousTime = 0

  const seen = (angle: number) => angle + encoder.eccentricityRad * Math.sin(angle)
  const readCounts = (angle: number) => Math.floor(seen(angle) / radPerCount)

  return {
    windowSec: periods * periodSec,
    readCounts,
    prime(timeSec, angle, speed) {
      for (let back = size; back >= 1; back--) {
        this.readSpeed(timeSec - back * periodSec, angle - speed * back * periodSec, speed)
      }
    },
    readSpeed(timeSec, angle, speed) {
      const now = readCounts(angle)
      if (Number.isNaN(counts)) {
        lastEdge = now
        lastTime = timeSec
        edgeCount.fill(now)
        edgeTime.fill(timeSec)
      } else if (now !== counts) {
        lastEdge = now > counts ? now : now + 1
        const beyond = seen(angle) - lastEdge * radPerCount
        const ago = speed === 0 ? 0 : beyond / speed
        const edge = Math.min(timeSec, Math.max(previousTime, timeSec - ago))
        lastTime = Math.round(edge / TICK_SEC) * TICK_SEC
      }
      counts = now
      previousTime = timeSec
      slot = (slot + 1) % size
      const oldest = (slot + 1) % size
      const timed = encoder.method === 'timed'
      edgeCount[slot] = timed ? lastEdge : now
      edgeTime[slot] = timed ? lastTime : timeSec
      const turned = edgeCount[slot]! - edgeCount[oldest]!
      const span = edgeTime[slot]! - edgeTime[oldest]!
      return span > 0 ? (turned * radPerCount) / span : 0
    },
  }
}
