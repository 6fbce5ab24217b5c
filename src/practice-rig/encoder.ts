import type { PracticeEncoder } from './bench.ts'

/** Timer that stamps encoder edges. */
const TICK_SEC = 1e-7

/** An incremental encoder read once a sample period. */
export interface EncoderReader {
  readonly windowSec: number
  readonly countsPerTurn: number
  /** Speed over the window that ends now, rad/s. */
  readSpeed(timeSec: number, angle: number, speed: number): number
  /** Whole counts of angle. */
  readCounts(angle: number): number
}

/**
 * Counts and edge times are kept for as many periods as the window has. `count` divides the counts
 * of the window by its length; `timed` divides the counts between the last edges seen at its two ends
 * by the time between those edges.
 */
export function createEncoder(encoder: PracticeEncoder, periodSec: number): EncoderReader {
  const periods = Math.max(1, Math.round(encoder.windowSec / periodSec))
  const size = periods + 1
  const timed = encoder.method === 'timed'
  const heldCount = new Float64Array(size)
  const heldTime = new Float64Array(size)
  const radPerCount = (2 * Math.PI) / encoder.countsPerTurn
  let slot = 0
  let counts = 0
  let edgeCount = 0
  let edgeTime = 0
  let readTime = Number.NEGATIVE_INFINITY

  const past = (back: number) => (slot + size - back) % size
  const seen = (angle: number) => angle + encoder.eccentricityRad * Math.sin(angle)
  const readCounts = (angle: number) => Math.floor(seen(angle) / radPerCount)

  function note(timeSec: number, angle: number, speed: number): void {
    const now = readCounts(angle)
    if (now !== counts) {
      edgeCount = now > counts ? now : now + 1
      const beyond = seen(angle) - edgeCount * radPerCount
      const passed = speed === 0 ? timeSec : timeSec - beyond / speed
      const inside = Math.min(timeSec, Math.max(readTime, passed))
      edgeTime = Math.round(inside / TICK_SEC) * TICK_SEC
    }
    counts = now
    readTime = timeSec
    slot = (slot + 1) % size
    heldCount[slot] = timed ? edgeCount : now
    heldTime[slot] = timed ? edgeTime : timeSec
  }

  /** The counter also runs while nobody reads: fills the window as if at the present speed. */
  function catchUp(timeSec: number, angle: number, speed: number): void {
    const ago = (size + 1) * periodSec
    readTime = timeSec - ago
    counts = readCounts(angle - speed * ago)
    edgeCount = counts
    edgeTime = readTime
    for (let back = size; back >= 1; back--) {
      note(timeSec - back * periodSec, angle - speed * back * periodSec, speed)
    }
  }

  return {
    windowSec: periods * periodSec,
    countsPerTurn: encoder.countsPerTurn,
    readCounts,
    readSpeed(timeSec, angle, speed) {
      if (timeSec - readTime > 1.5 * periodSec) catchUp(timeSec, angle, speed)
      note(timeSec, angle, speed)
      let back = periods
      // An edge from long before the window tells nothing of it: the first one inside does.
      const stale = timeSec - 2 * periods * periodSec
      if (timed) while (back > 0 && heldTime[past(back)]! < stale) back--
      const from = back === 0 ? past(1) : past(back)
      const span = back === 0 ? periodSec : heldTime[slot]! - heldTime[from]!
      return span > 0 ? ((heldCount[slot]! - heldCount[from]!) * radPerCount) / span : 0
    },
  }
}
