import { levenbergMarquardt } from 'ml-levenberg-marquardt'
import type { CurveProblem } from '../../src/numerics/nonlinear-least-squares.ts'

/**
 * The same problem by `ml-levenberg-marquardt`, parameters and data scaled to about one, since its difference
 * step and its stopping rule are absolute. Throws where the package does.
 */
export function fitByPackage(
  { data, values }: CurveProblem,
  start: readonly number[],
  maxIterations: number,
): number[] {
  const size = data.reduce((largest, value) => Math.max(largest, Math.abs(value)), 0)
  const unscale = (q: readonly number[]) => q.map((value, j) => value * start[j]!)
  const fit = levenbergMarquardt(
    { x: Float64Array.from(data, (_, i) => i), y: data.map(value => value / size) },
    q => {
      const model = values(Float64Array.from(unscale(q)))
      return i => model[i]! / size
    },
    {
      initialValues: start.map(() => 1),
      gradientDifference: 1e-6,
      centralDifference: true,
      maxIterations,
      errorTolerance: 0,
    },
  )
  return unscale(fit.parameterValues)
}
