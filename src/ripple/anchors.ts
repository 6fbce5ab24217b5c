/** A moment at which the speed was told by the lines around it alone. */
export interface Anchor {
  readonly sample: number
  readonly turnsPerSec: number
  /** Samples to either side for which it stands. */
  readonly reach: number
}

/** Between neighbouring anchors the speed may change by this factor. */
const LARGEST_CHANGE = 1.3

const isLike = (change: number) => change < LARGEST_CHANGE && change > 1 / LARGEST_CHANGE

/** Turns a sample between anchors that follow each other closely; 0 where nothing tells the speed. */
export function speedBetween(
  anchors: readonly Anchor[],
  start: number,
  length: number,
  rateHz: number,
): Float64Array {
  const speed = new Float64Array(length)
  const inside = anchors.filter(({ sample }) => sample >= start && sample < start + length)
  const fill = (from: number, to: number, a: Anchor, b: Anchor) => {
    const span = b.sample - a.sample
    for (let i = Math.max(0, from); i < Math.min(length, to); i++) {
      const share = span > 0 ? Math.min(1, Math.max(0, (start + i - a.sample) / span)) : 0
      speed[i] = (a.turnsPerSec * (b.turnsPerSec / a.turnsPerSec) ** share) / rateHz
    }
  }
  inside.forEach((anchor, k) => {
    const at = anchor.sample - start
    const { reach } = anchor
    fill(at - reach, at + reach, anchor, anchor)
    const next = inside[k + 1]
    if (next === undefined || next.sample - anchor.sample > 2 * reach) return
    const change = next.turnsPerSec / anchor.turnsPerSec
    if (isLike(change)) {
      fill(at, next.sample - start, anchor, next)
    }
  })
  return speed
}
