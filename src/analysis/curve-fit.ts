import { levenbergMarquardt } from 'ml-levenberg-marquardt'
import { CURVE_OPTIONS, nonlinearLeastSquares } from '../numerics/nonlinear-least-squares.ts'
import { autocorrelationTime } from '../statistics/autocorrelation-time.ts'

/** Parameters of a closed-form curve with their covariance, in the units of `start`. */
export interface CurveFit {
  readonly parameters: readonly number[]
  readonly covariance: readonly (readonly number[])[]
  readonly residuals: Float64Array
  readonly degreesOfFreedom: number
}

export interface CurveFitOptions {
  /** Parameters are kept at or above these. */
  readonly lowest?: readonly number[]
}

/** Step of the difference quotients, of parameters that are about one. */
const STEP = 1e-6
/** Curves with sensible start values take five to ten passes; those that run away get no further by more. */
const MOST_PASSES = 50
/** Up to so many points the package leads the way; it takes a function call a point and a parameter. */
const SMALL = 500
const PACKAGE_ITERATIONS = 20
/** No reading has so many digits: what is below this share of the largest is rounding, which has no minimum. */
const ROUNDING = 1e-12

/**
 * Least-squares fit of a small curve whose parameters and data are scaled to about one first, with slopes by
 * central differences. `ml-levenberg-marquardt` leads the way on small curves; our own solver, which meets the
 * certified sets that the package misses, goes on from where that is better than the start. The covariance comes from the slopes at the solution and the residual variance, raised by
 * the residuals' correlation time. Null where the parameters cannot be told apart or the fit does not settle.
 *
 * @param curve all values of the curve at once for a parameter vector
 */
export function fitCurve(
  curve: (parameters: readonly number[]) => Float64Array,
  data: Float64Array,
  start: readonly number[],
  options: CurveFitOptions = {},
): CurveFit | null {
  const size = data.reduce((largest, value) => Math.max(largest, Math.abs(value)), 0)
  if (!(size > 0) || start.some(p => !(Math.abs(p) > 0)) || data.length < start.length + 1)
    return null
  const unscale = (q: ArrayLike<number>) => start.map((value, j) => q[j]! * value)
  const scaled = (q: ArrayLike<number>) => curve(unscale(q)).map(value => value / size)
  const slopes = (q: Float64Array) =>
    start.map((_, j) => {
      const up = scaled(q.with(j, q[j]! + STEP))
      const down = scaled(q.with(j, q[j]! - STEP))
      return up.map((high, i) => (high - down[i]!) / (2 * STEP))
    })
  const lowest = start.map((p, j) => boundOf(p, options.lowest?.[j]))
  const readings = data.map(value => value / size)
  const ones = start.map(() => 1)
  const fitFrom = (from: readonly number[]) =>
    nonlinearLeastSquares({ data: readings, values: scaled, slopes, lowest }, from, {
      ...CURVE_OPTIONS,
      maxPasses: MOST_PASSES,
      expectedGain: data.length * ROUNDING ** 2,
    })
  const led = data.length > SMALL ? ones : ledByPackage(readings, scaled, lowest)
  let fit = fitFrom(led)
  if (!fit.ok && led !== ones) fit = fitFrom(ones)
  if (!fit.ok || fit.value.residualVariance === null) return null
  const { parameters, residuals, residualVariance, inverseNormal } = fit.value
  const correlation = autocorrelationTime(residuals)
  const spread = residualVariance * correlation
  return {
    parameters: unscale(parameters),
    covariance: inverseNormal.map((row, j) =>
      row.map((value, k) => value * spread * start[j]! * start[k]!),
    ),
    residuals: residuals.map(value => value * size),
    degreesOfFreedom: Math.max(1, data.length / correlation - start.length),
  }
}

/** Where the package gets from ones all over, if that is lower than where it began. */
function ledByPackage(
  readings: Float64Array,
  scaled: (q: ArrayLike<number>) => Float64Array,
  lowest: readonly number[],
): readonly number[] {
  const ones = lowest.map(() => 1)
  try {
    const { parameterValues } = levenbergMarquardt(
      { x: Float64Array.from(readings, (_, i) => i), y: readings },
      q => {
        const model = scaled(q)
        return i => model[i]!
      },
      {
        initialValues: ones,
        minValues: [...lowest],
        gradientDifference: STEP,
        centralDifference: true,
        maxIterations: PACKAGE_ITERATIONS,
        errorTolerance: 0,
      },
    )
    const square = (q: ArrayLike<number>) =>
      scaled(q).reduce((sum, value, i) => sum + (value - readings[i]!) ** 2, 0)
    return square(parameterValues) < square(ones) ? parameterValues : ones
  } catch {
    // It throws where its steps leave the numbers behind: on a certified set that ours meets.
    return ones
  }
}

function boundOf(start: number, lowest: number | undefined): number {
  return lowest === undefined || start < 0 ? -1e6 : lowest / start
}
