import { levenbergMarquardt } from 'ml-levenberg-marquardt'
import { linearLeastSquares } from '../numerics/linear/least-squares.ts'
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

const ITERATIONS = 15
const STEP = 1e-6

/**
 * Least-squares fit of a small curve by `ml-levenberg-marquardt`. Parameters and data are scaled to about one
 * first, since its difference step and its stopping rule are absolute; weights stay at one. The covariance
 * comes from the Jacobian at the solution and the residual variance, raised by the residuals' correlation time.
 * Null where the parameters cannot be told apart or the fit leaves the numbers.
 *
 * @param curve all values of the curve at once for a parameter vector
 */
export function fitCurve(
  curve: (parameters: readonly number[]) => Float64Array,
  data: Float64Array,
  start: readonly number[],
  options: CurveFitOptions = {},
): CurveFit | null {
  const size = Math.max(...data.map(Math.abs))
  if (!(size > 0) || start.some(p => !(Math.abs(p) > 0)) || data.length < start.length + 1)
    return null
  const unscale = (q: readonly number[]) => q.map((value, j) => value * start[j]!)
  const scaled = (q: readonly number[]) => curve(unscale(q)).map(value => value / size)
  const places = Float64Array.from(data, (_, i) => i)
  const fit = levenbergMarquardt(
    { x: places, y: data.map(value => value / size) },
    q => {
      const values = scaled(q)
      return i => values[i]!
    },
    {
      initialValues: start.map(() => 1),
      minValues: start.map((p, j) => boundOf(p, options.lowest?.[j])),
      maxValues: start.map(() => 1e6),
      gradientDifference: STEP,
      centralDifference: true,
      maxIterations: ITERATIONS,
      errorTolerance: 0,
    },
  )
  const q = fit.parameterValues
  if (q.some(value => !Number.isFinite(value))) return null
  const columns = q.map((value, j) => {
    const up = scaled(q.with(j, value + STEP))
    const down = scaled(q.with(j, value - STEP))
    return up.map((high, i) => (high - down[i]!) / (2 * STEP))
  })
  const model = scaled(q)
  const residuals = data.map((value, i) => value / size - model[i]!)
  const linear = linearLeastSquares(columns, residuals)
  if (!linear.ok || linear.value.residualVariance === null) return null
  const correlation = autocorrelationTime(residuals)
  const spread = linear.value.residualVariance * correlation
  return {
    parameters: unscale(q),
    covariance: linear.value.inverseNormal.map((row, j) =>
      row.map((value, k) => value * spread * start[j]! * start[k]!),
    ),
    residuals: residuals.map(value => value * size),
    degreesOfFreedom: Math.max(1, data.length / correlation - start.length),
  }
}

function boundOf(start: number, lowest: number | undefined): number {
  return lowest === undefined || start < 0 ? -1e6 : lowest / start
}
