import { whiteNoise } from '../statistics/robust.ts'
import { weightedMean } from './weighted-mean.ts'

/** A share of the speed that no reading of a current tells. */
const SMALLEST = 1e-6
/** Time constants that are tried, in parts of the approach that is looked at. */
const TIME_SHARES = Array.from({ length: 24 }, (_, k) => 0.05 * 1.2 ** k)
/** Friction and sagging supplies bend the approach by about this part of what it still has to go. */
const BENT_SHARE = 0.1

/** The exponential that suits best what grows backwards from the end, less what it ends at. */
export function approach(shares: readonly number[]): readonly number[] {
  let best: { course: readonly number[]; left: number } | null = null
  const count = shares.length
  const noise = Math.max(whiteNoise(shares), SMALLEST)
  const weights = shares.map(share => 1 / (noise ** 2 + (BENT_SHARE * share) ** 2))
  const mean = weightedMean(shares, weights)
  for (const timeShare of TIME_SHARES) {
    const grown = shares.map((_, k) => Math.exp((k + 0.5 - count) / (timeShare * count)))
    const middle = weightedMean(grown, weights)
    const xx = weightedMean(
      grown.map(x => (x - middle) ** 2),
      weights,
    )
    const xy = weightedMean(
      grown.map((x, k) => (x - middle) * (shares[k]! - mean)),
      weights,
    )
    const slope = xy / xx
    const left = weightedMean(
      shares.map((share, k) => (share - mean - slope * (grown[k]! - middle)) ** 2),
      weights,
    )
    if (best === null || left < best.left) best = { course: grown.map(x => slope * x), left }
  }
  return best!.course
}
