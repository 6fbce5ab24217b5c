import { failure, type Result, success } from '../base/result.ts'
import { type LinearFault, linearLeastSquares } from '../numerics/linear/least-squares.ts'
import { errorsInVariables } from './errors-in-variables.ts'

/** y = intercept + slope × x, with the covariance of the two. */
export interface StraightLine {
  readonly intercept: number
  readonly slope: number
  readonly interceptUncertainty: number
  readonly slopeUncertainty: number
  readonly covariance: number
  /** Σ w r²: χ² where the weights are 1/σ². */
  readonly chiSquare: number
  readonly degreesOfFreedom: number
  readonly residuals: Float64Array
}

/**
 * Ordinary straight line, errors in y alone and equal: s² = Σ r²/(n − 2) (GUM H.3).
 * With `weights` (1/σ², relative): the same, scaled by the weighted residuals.
 */
export function straightLine(
  x: ArrayLike<number>,
  y: ArrayLike<number>,
  weights?: ArrayLike<number>,
): Result<StraightLine, LinearFault> {
  const ones = new Float64Array(x.length).fill(1)
  const fit = linearLeastSquares([ones, x], y, weights)
  if (!fit.ok) return fit
  const { coefficients, inverseNormal, residualVariance, residuals } = fit.value
  if (residualVariance === null) return failure('too-few-points')
  const covariance = inverseNormal.map(row => row.map(value => value * residualVariance))
  return success({
    ...asLine(coefficients, covariance),
    chiSquare: fit.value.weightedSquareSum,
    degreesOfFreedom: fit.value.degreesOfFreedom,
    residuals,
  })
}

/**
 * Straight line with known standard deviations in both variables (York 2004), uncertainties from those and
 * not from the scatter; `chiSquare` tells whether the scatter agrees.
 */
export function lineWithBothErrors(
  x: ArrayLike<number>,
  y: ArrayLike<number>,
  sigmaX: ArrayLike<number>,
  sigmaY: ArrayLike<number>,
): Result<StraightLine, LinearFault> {
  const ones = new Float64Array(x.length).fill(1)
  const fit = errorsInVariables(
    [
      { values: ones, sigmas: null },
      { values: x, sigmas: sigmaX },
    ],
    y,
    sigmaY,
  )
  if (!fit.ok) return fit
  return success({
    ...asLine(fit.value.coefficients, fit.value.covariance),
    chiSquare: fit.value.chiSquare,
    degreesOfFreedom: fit.value.freedom,
    residuals: fit.value.residuals,
  })
}

function asLine(coefficients: readonly number[], covariance: readonly (readonly number[])[]) {
  return {
    intercept: coefficients[0]!,
    slope: coefficients[1]!,
    interceptUncertainty: Math.sqrt(covariance[0]![0]!),
    slopeUncertainty: Math.sqrt(covariance[1]![1]!),
    covariance: covariance[0]![1]!,
  }
}
