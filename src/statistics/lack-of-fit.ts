import { fP, normalProbability } from './distributions.ts'

export interface FTest {
  readonly f: number
  readonly numeratorFreedom: number
  readonly denominatorFreedom: number
  /** Probability of a ratio at least this large if the simpler model were right. */
  readonly p: number
}

export interface SquareSum {
  readonly squareSum: number
  readonly degreesOfFreedom: number
}

/**
 * Does a richer model earn its terms? F = (ΔSS/Δν) / (SS_rich/ν_rich); the models must be nested.
 * Null where the richer model leaves no degrees of freedom or no residual to judge by.
 */
export function nestedModelTest(simple: SquareSum, richer: SquareSum): FTest | null {
  const numeratorFreedom = simple.degreesOfFreedom - richer.degreesOfFreedom
  if (!(numeratorFreedom > 0)) {
    throw new RangeError(
      `richer.degreesOfFreedom = ${richer.degreesOfFreedom}; must be below ${simple.degreesOfFreedom}`,
    )
  }
  if (richer.degreesOfFreedom < 1 || !(richer.squareSum > 0)) return null
  const f =
    (simple.squareSum - richer.squareSum) /
    numeratorFreedom /
    (richer.squareSum / richer.degreesOfFreedom)
  return {
    f,
    numeratorFreedom,
    denominatorFreedom: richer.degreesOfFreedom,
    p: fP(f, numeratorFreedom, richer.degreesOfFreedom),
  }
}

/**
 * Do residuals change sign as seldom (or as often) as chance allows? Wald and Wolfowitz 1940, normal
 * approximation with continuity correction; `p` is one-sided for too few runs, the mark of a curve left over.
 * Null for fewer than five residuals of either sign.
 */
export function runsTest(residuals: ArrayLike<number>): { runs: number; p: number } | null {
  let positive = 0
  let negative = 0
  let runs = 0
  let last = 0
  for (let i = 0; i < residuals.length; i++) {
    const sign = Math.sign(residuals[i]!)
    if (sign === 0) continue
    if (sign > 0) positive++
    else negative++
    if (sign !== last) runs++
    last = sign
  }
  if (positive < 5 || negative < 5) return null
  const n = positive + negative
  const product = 2 * positive * negative
  const expected = product / n + 1
  const variance = (product * (product - n)) / (n * n * (n - 1))
  return { runs, p: normalProbability((runs + 0.5 - expected) / Math.sqrt(variance)) }
}
