import { plainMean } from '../signals/steady-levels.ts'

/** Samples of a piece, the last one exclusive. */
export type Stretch = readonly [from: number, to: number]

export const SHORTEST_SEGMENT = 64

/** Runs within the level; short excursions beyond it do not cut them. */
export function stretchesNear(
  bins: Int32Array,
  centre: number,
  halfWidth: number,
  longestExcursion: number,
): Stretch[] {
  const found: Stretch[] = []
  let from = -1
  let outside = 0
  for (let k = 0; k <= bins.length; k++) {
    const inside = k < bins.length && Math.abs(bins[k]! - centre) <= halfWidth
    outside = inside ? 0 : outside + 1
    if (inside && from < 0) from = k
    if (from >= 0 && (outside > longestExcursion || k === bins.length)) {
      const to = k - outside + 1
      if (to - from >= SHORTEST_SEGMENT) found.push([from, to])
      from = -1
    }
  }
  return found
}

/**
 * Stretches between which the back-EMF left the level in one direction and the other, so that its mean did not, are one:
 * that was its noise. What lies between is no longer than what it joins.
 *
 * @param share of the level by which the mean may differ from it
 */
export function joinedAcrossNoise(
  stretches: readonly Stretch[],
  emf: Float64Array,
  levelVolt: number,
  share: number,
): Stretch[] {
  const joined: Stretch[] = []
  for (const [from, to] of stretches) {
    const before = joined.at(-1)
    const gap = before === undefined ? 0 : from - before[1]
    const isNoise =
      before !== undefined &&
      gap <= before[1] - before[0] + to - from &&
      Math.abs(Math.abs(plainMean(emf, before[1], from)) / levelVolt - 1) <= share
    if (isNoise) joined[joined.length - 1] = [before[0], to]
    else joined.push([from, to])
  }
  return joined
}
