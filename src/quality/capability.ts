import { chiSquareQuantile, normalQuantile } from '../statistics/distributions.ts'
import type { ToleranceBand } from './conformity.ts'

/** An index with its 95 % confidence interval. */
export interface Index {
  readonly value: number
  readonly lower95: number
  readonly upper95: number
}

/**
 * Indices of a band against a spread. With the overall standard deviation they are performance indices
 * (P_p, P_pk) and claim nothing about stability; with the spread within subgroups of a process in
 * statistical control, capability indices (C_p, C_pk). Null where the band has no such side.
 */
export interface SpreadIndices {
  readonly both: Index | null
  readonly lower: Index | null
  readonly upper: Index | null
  readonly worst: Index
  /** Off-centre: |middle of the band − mean| over half its width. */
  readonly offCentre: number | null
}

/**
 *   C_p = (U − L)/6σ,  C_pu = (U − x̄)/3σ,  C_pl = (x̄ − L)/3σ,  C_pk = min
 * Intervals: χ² for C_p, normal approximation √(1/(9n) + C²/(2(n−1))) for the others
 * (A. F. Bissell, Applied Statistics 39, 1990; NIST/SEMATECH e-Handbook 6.1.6), one-sided ones with the same.
 * @param count values behind the standard deviation
 * Terms: ISO 22514-2.
 */
export function spreadIndices(
  meanValue: number,
  sigma: number,
  count: number,
  band: ToleranceBand,
): SpreadIndices {
  if (!(sigma > 0)) throw new RangeError(`sigma = ${sigma}; must be a number > 0`)
  if (!(Number.isInteger(count) && count >= 2))
    throw new RangeError(`count = ${count}; must be a whole number >= 2`)
  const { lower, upper } = band
  const lowerIndex = lower === null ? null : oneSided((meanValue - lower) / (3 * sigma), count)
  const upperIndex = upper === null ? null : oneSided((upper - meanValue) / (3 * sigma), count)
  const worst = [lowerIndex, upperIndex]
    .filter(index => index !== null)
    .sort((a, b) => a.value - b.value)[0]
  if (!worst) throw new RangeError('band has neither a lower nor an upper limit; must have one')
  const hasBoth = lower !== null && upper !== null
  return {
    both: hasBoth ? twoSided((upper - lower) / (6 * sigma), count) : null,
    lower: lowerIndex,
    upper: upperIndex,
    worst,
    offCentre: hasBoth ? Math.abs((upper + lower) / 2 - meanValue) / ((upper - lower) / 2) : null,
  }
}

function twoSided(value: number, count: number): Index {
  const freedom = count - 1
  return {
    value,
    lower95: value * Math.sqrt(chiSquareQuantile(0.025, freedom) / freedom),
    upper95: value * Math.sqrt(chiSquareQuantile(0.975, freedom) / freedom),
  }
}

function oneSided(value: number, count: number): Index {
  const spread =
    normalQuantile(0.975) * Math.sqrt(1 / (9 * count) + (value * value) / (2 * (count - 1)))
  return { value, lower95: value - spread, upper95: value + spread }
}
