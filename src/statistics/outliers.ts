import { standardDeviation, mean as meanOf } from './describe.ts'
import { studentQuantile } from './distributions.ts'
import { median, medianAbsoluteDeviation } from './robust.ts'

export interface GrubbsResult {
  /** Place of the value farthest from the mean. */
  readonly index: number
  /** |x − x̄| / s of that value. */
  readonly statistic: number
  readonly critical: number
  readonly isOutlier: boolean
}

/**
 * Grubbs' two-sided test for one outlier in normal data; null for fewer than three values or no spread.
 * Source: F. E. Grubbs, Technometrics 11 (1969); NIST/SEMATECH e-Handbook 1.3.5.17.1.
 */
export function grubbsTest(values: readonly number[], significance = 0.05): GrubbsResult | null {
  const n = values.length
  const spread = standardDeviation(values)
  if (n < 3 || !(spread > 0)) return null
  const centre = meanOf(values)
  let index = 0
  for (let i = 1; i < n; i++) {
    if (Math.abs(values[i]! - centre) > Math.abs(values[index]! - centre)) index = i
  }
  const statistic = Math.abs(values[index]! - centre) / spread
  const critical = grubbsCritical(n, significance / (2 * n))
  return { index, statistic, critical, isOutlier: statistic > critical }
}

/** Critical value of Grubbs' statistic; `tail` is the significance divided by n (one side) or 2n (two sides). */
export function grubbsCritical(n: number, tail: number): number {
  const t2 = studentQuantile(1 - tail, n - 2) ** 2
  return ((n - 1) / Math.sqrt(n)) * Math.sqrt(t2 / (n - 2 + t2))
}

/**
 * Marks values farther than `limit` robust standard deviations from the median (Iglewicz and Hoaglin 1993 take
 * 3.5). Where more than half of the values are equal, whatever differs is not judged.
 */
export function flagOutliers(values: ArrayLike<number>, limit = 3.5): boolean[] {
  const centre = median(values)
  const spread = medianAbsoluteDeviation(values)
  return Array.from(values, value => spread > 0 && Math.abs(value - centre) > limit * spread)
}
