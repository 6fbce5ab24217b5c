import { mean, standardDeviation } from '../statistics/describe.ts'
import { normalProbability } from '../statistics/distributions.ts'

export interface NormalityTest {
  /** A², adjusted for mean and standard deviation taken from the data. */
  readonly statistic: number
  /** Probability of so much departure by chance. */
  readonly p: number
  readonly count: number
}

/** Fewest values from which a departure from normality can be judged at all. */
export const FEWEST_FOR_NORMALITY = 8

/**
 * Anderson–Darling test of normality with both parameters estimated; null for fewer than
 * `FEWEST_FOR_NORMALITY` values or no spread.
 *   A² = −n − Σ (2i − 1)/n [ln Φ(zᵢ) + ln(1 − Φ(zₙ₊₁₋ᵢ))],  A²* = A² (1 + 0.75/n + 2.25/n²)
 * Source: R. B. D'Agostino and M. A. Stephens, Goodness-of-Fit Techniques (1986), table 4.9.
 */
export function andersonDarling(values: readonly number[]): NormalityTest | null {
  const n = values.length
  const spread = standardDeviation(values)
  if (n < FEWEST_FOR_NORMALITY || !(spread > 0)) return null
  const centre = mean(values)
  const z = values.map(value => (value - centre) / spread).sort((a, b) => a - b)
  let sum = 0
  for (let i = 0; i < n; i++) {
    sum +=
      (2 * i + 1) *
      (Math.log(normalProbability(z[i]!)) + Math.log(normalProbability(-z[n - 1 - i]!)))
  }
  const statistic = (-n - sum / n) * (1 + 0.75 / n + 2.25 / (n * n))
  return { statistic, p: andersonDarlingP(statistic), count: n }
}

function andersonDarlingP(a: number): number {
  if (a >= 0.6) return Math.exp(1.2937 - 5.709 * a + 0.0186 * a * a)
  if (a >= 0.34) return Math.exp(0.9177 - 4.279 * a - 1.38 * a * a)
  if (a >= 0.2) return 1 - Math.exp(-8.318 + 42.796 * a - 59.938 * a * a)
  return 1 - Math.exp(-13.436 + 101.14 * a - 223.73 * a * a)
}
