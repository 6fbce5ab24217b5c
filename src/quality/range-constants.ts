import { normalProbability } from '../statistics/distributions.ts'

/** What relates the ranges and standard deviations of small normal samples to σ. */
export interface RangeConstants {
  /** Mean and standard deviation of the range, over σ. */
  readonly d2: number
  readonly d3: number
  /** Mean of the sample standard deviation, over σ. */
  readonly c4: number
}

const LIMIT = 8
const STEP = 0.025

/**
 * Constants of a normal sample of `size`:
 *   d2 = ∫ [1 − Φⁿ − (1 − Φ)ⁿ] dx
 *   d3² = 2 ∬_{x<y} [1 − Φ(y)ⁿ − (1 − Φ(x))ⁿ + (Φ(y) − Φ(x))ⁿ] dx dy − d2²
 *   c4 = √(2/(n − 1)) Γ(n/2)/Γ((n − 1)/2)
 * by the trapezoidal rule, which for these smooth tails is good to better than 1e-6; the inner integral
 * of d3 ends at x = y with a slope whose own integral is 1, which adds −h²/12.
 * Source: L. H. C. Tippett, Biometrika 17 (1925); values of ISO 7870-2 and textbooks agree (test/quality).
 */
export function rangeConstants(size: number): RangeConstants {
  if (!(Number.isInteger(size) && size >= 2 && size <= 25)) {
    throw new RangeError(`size = ${size}; must be a whole number from 2 to 25`)
  }
  const count = Math.round((2 * LIMIT) / STEP) + 1
  const phi = Float64Array.from({ length: count }, (_, i) => normalProbability(-LIMIT + i * STEP))
  let d2 = 0
  let square = 0
  for (let j = 0; j < count; j++) {
    const upper = phi[j]!
    d2 += 1 - upper ** size - (1 - upper) ** size
    for (let i = 0; i <= j; i++) {
      const lower = phi[i]!
      const weight = i === j ? 0.5 : 1
      square += weight * (1 - upper ** size - (1 - lower) ** size + (upper - lower) ** size)
    }
  }
  d2 *= STEP
  return {
    d2,
    d3: Math.sqrt(2 * STEP * STEP * (square - 1 / 12) - d2 * d2),
    c4: meanOfStandardDeviation(size),
  }
}

/** c4 by the recurrence c4(n + 2) = c4(n) · n/√(n² − 1), from c4(2) = √(2/π), c4(3) = √π/2. */
function meanOfStandardDeviation(size: number): number {
  let c4 = size % 2 === 0 ? Math.sqrt(2 / Math.PI) : Math.sqrt(Math.PI) / 2
  for (let n = size % 2 === 0 ? 2 : 3; n < size; n += 2) c4 *= n / Math.sqrt(n * n - 1)
  return c4
}
