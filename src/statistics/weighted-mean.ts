/** A value with its standard uncertainty. `degreesOfFreedom` may be infinite: the uncertainty is then known. */
export interface Estimate {
  readonly value: number
  readonly standardUncertainty: number
  readonly degreesOfFreedom: number
}

export interface CombinedMean extends Estimate {
  /** Standard deviation between the estimates beyond their own uncertainties; 0 where they agree. */
  readonly between: number
  /** Σ ((x − mean)/u)² with the stated uncertainties alone. */
  readonly chiSquare: number
}

/**
 * Weighted mean of independent estimates that may scatter by more than they claim: the between-variance s² is
 * the one that makes Σ (x − x̄)²/(u² + s²) equal to its degrees of freedom, or 0 where the stated uncertainties
 * explain the scatter already. Weights are 1/(u² + s²).
 * Source: R. C. Paule, J. Mandel, J. Res. Natl. Bur. Stand. 87 (1982) 377.
 */
export function combineEstimates(estimates: readonly Estimate[]): CombinedMean {
  if (estimates.length === 0) throw new RangeError('estimates.length = 0; must be at least 1')
  const values = estimates.map(e => e.value)
  const variances = estimates.map(e => floorVariance(e.standardUncertainty ** 2, e.value))
  const plain = weightedSum(values, variances, 0)
  const freedom = estimates.length - 1
  let low = 0
  let high = 0
  if (freedom > 0 && plain.chiSquare > freedom) {
    high = Math.max(...values.map(value => (value - plain.mean) ** 2)) * 4
    while (weightedSum(values, variances, high).chiSquare > freedom) high *= 4
    for (let step = 0; step < 200 && high - low > 1e-12 * high; step++) {
      const middle = (low + high) / 2
      if (weightedSum(values, variances, middle).chiSquare > freedom) low = middle
      else high = middle
    }
  }
  const { mean, variance } = weightedSum(values, variances, high)
  return {
    value: mean,
    standardUncertainty: Math.sqrt(variance),
    degreesOfFreedom: high > 0 ? freedom : combinedFreedom(estimates, variances),
    between: Math.sqrt(high),
    chiSquare: plain.chiSquare,
  }
}

function weightedSum(values: readonly number[], variances: readonly number[], between: number) {
  let weights = 0
  let sum = 0
  for (const [i, value] of values.entries()) {
    const weight = 1 / (variances[i]! + between)
    weights += weight
    sum += weight * value
  }
  const mean = sum / weights
  const chiSquare = values.reduce(
    (total, value, i) => total + (value - mean) ** 2 / (variances[i]! + between),
    0,
  )
  return { mean, variance: 1 / weights, chiSquare }
}

/** Two exact numbers still differ by rounding: no variance is taken as smaller than that. */
function floorVariance(variance: number, value: number): number {
  return Math.max(variance, (1e-12 * value) ** 2, Number.MIN_VALUE * 1e20)
}

/** Welch–Satterthwaite for the weighted mean (GUM G.4.1): ν = (Σ w)² / Σ (w²/ν). */
function combinedFreedom(estimates: readonly Estimate[], variances: readonly number[]): number {
  let weights = 0
  let quartic = 0
  for (const [i, estimate] of estimates.entries()) {
    const weight = 1 / variances[i]!
    weights += weight
    quartic += weight ** 2 / estimate.degreesOfFreedom
  }
  return quartic > 0 ? weights ** 2 / quartic : Number.POSITIVE_INFINITY
}
