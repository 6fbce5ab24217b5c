import { mean, variance } from '../statistics/describe.ts'
import { coverageFactor, studentTwoSidedP } from '../statistics/distributions.ts'

export interface MeanComparison {
  /** Mean of the second less that of the first. */
  readonly difference: number
  readonly standardUncertainty: number
  readonly lower95: number
  readonly upper95: number
  readonly t: number
  readonly degreesOfFreedom: number
  readonly p: number
}

/**
 * Compares the means of two samples whose spreads may differ:
 *   t = (x̄₂ − x̄₁)/√(s₁²/n₁ + s₂²/n₂), degrees of freedom after Welch and Satterthwaite.
 * Source: B. L. Welch, Biometrika 34 (1947); NIST/SEMATECH e-Handbook 1.3.5.3.
 */
export function compareMeans(first: readonly number[], second: readonly number[]): MeanComparison {
  for (const [name, values] of [
    ['first', first],
    ['second', second],
  ] as const) {
    if (values.length < 2)
      throw new RangeError(`${name}.length = ${values.length}; must be at least 2`)
  }
  const a = variance(first) / first.length
  const b = variance(second) / second.length
  const difference = mean(second) - mean(first)
  const standardUncertainty = Math.sqrt(a + b)
  const degreesOfFreedom =
    (a + b) ** 2 / (a ** 2 / (first.length - 1) + b ** 2 / (second.length - 1))
  const k = coverageFactor(degreesOfFreedom)
  const t = difference / standardUncertainty
  return {
    difference,
    standardUncertainty,
    lower95: difference - k * standardUncertainty,
    upper95: difference + k * standardUncertainty,
    t,
    degreesOfFreedom,
    p: studentTwoSidedP(t, degreesOfFreedom),
  }
}
