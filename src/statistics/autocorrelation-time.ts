import { mean, variance } from './describe.ts'

/** A mean of correlated samples. `effectiveCount` is how many independent ones would be as good. */
export interface CorrelatedMean {
  readonly mean: number
  readonly standardUncertainty: number
  readonly effectiveCount: number
}

/**
 * Longer series are averaged in blocks first, so that the work stays bounded: n/τ is then that of the block means,
 * times the ratio of the variances.
 */
const LONGEST = 8192
/** The sum of correlations is cut where the lag exceeds this many correlation times (Sokal 1997 takes 4 to 6). */
const WINDOW = 5

/**
 * Integrated autocorrelation time in samples: τ = 1 + 2 Σ ρₖ, the sum cut by Sokal's automatic window.
 * Independent samples give 1; the variance of a mean is τ s²/n. Never below 1: a series that seems to average
 * out faster than independent samples is not believed.
 * Source: A. Sokal, Monte Carlo Methods in Statistical Mechanics, 1997, section 3 (from memory).
 */
export function autocorrelationTime(values: ArrayLike<number>): number {
  const block = Math.ceil(values.length / LONGEST)
  if (block > 1) {
    const means = blockMeans(values, block)
    const spread = variance(values)
    if (!(spread > 0)) return 1
    const shrunk = variance(means) / spread
    return Math.max(1, autocorrelationTime(means) * block * shrunk)
  }
  const n = values.length
  const centre = mean(values)
  const deviations = new Float64Array(n)
  let squares = 0
  for (let i = 0; i < n; i++) {
    const deviation = values[i]! - centre
    deviations[i] = deviation
    squares += deviation * deviation
  }
  if (!(squares > 0)) return 1
  let time = 1
  for (let first = 1; first < n / 2; first += LAGS_AT_ONCE) {
    const products = laggedProducts(deviations, first)
    for (let k = 0; k < LAGS_AT_ONCE && first + k < n / 2; k++) {
      time += (2 * products[k]!) / squares
      if (first + k >= WINDOW * Math.max(time, 1)) return Math.max(1, time)
    }
  }
  return Math.max(1, time)
}

const LAGS_AT_ONCE = 4

/**
 * Σ dᵢ dᵢ₊ₗ at the lags l = `first` to `first` + 3. Four sums that do not wait for each other and share what they
 * read take little longer than one.
 */
function laggedProducts(d: Float64Array, first: number): readonly number[] {
  const whole = Math.max(0, d.length - first - 3)
  let [a, b, c, e] = [0, 0, 0, 0]
  let [p, q, r] = [d[first] ?? 0, d[first + 1] ?? 0, d[first + 2] ?? 0]
  for (let i = 0; i < whole; i++) {
    const value = d[i]!
    const s = d[i + first + 3]!
    a += value * p
    b += value * q
    c += value * r
    e += value * s
    p = q
    q = r
    r = s
  }
  const sums = [a, b, c, e]
  for (let k = 0; k < 3; k++) {
    for (let i = whole; i + first + k < d.length; i++) sums[k]! += d[i]! * d[i + first + k]!
  }
  return sums
}

/** Mean of a correlated series with the standard uncertainty that its correlation leaves. */
export function correlatedMean(values: ArrayLike<number>): CorrelatedMean {
  const n = values.length
  const centre = mean(values)
  if (n < 2) return { mean: centre, standardUncertainty: Number.NaN, effectiveCount: n }
  let squares = 0
  for (let i = 0; i < n; i++) squares += (values[i]! - centre) ** 2
  const effectiveCount = Math.max(1, n / autocorrelationTime(values))
  const spread = squares / Math.max(1, n - n / effectiveCount)
  return {
    mean: centre,
    standardUncertainty: Math.sqrt(spread / effectiveCount),
    effectiveCount,
  }
}

/** Means of successive blocks; a last incomplete block is left out. */
export function blockMeans(values: ArrayLike<number>, size: number): Float64Array {
  const count = Math.floor(values.length / size)
  const means = new Float64Array(count)
  for (let b = 0; b < count; b++) {
    let sum = 0
    for (let i = b * size; i < (b + 1) * size; i++) sum += values[i]!
    means[b] = sum / size
  }
  return means
}
