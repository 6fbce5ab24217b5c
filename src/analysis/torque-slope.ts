import type { SteadyLevel } from '../signals/steady-levels.ts'
import { errorsInVariables } from '../statistics/errors-in-variables.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'

/** T = intercept sgn(i) + slope × i over steady levels: the slope is k_t, the intercept what friction holds. */
export interface TorqueSlope {
  readonly slope: Estimate
  readonly intercept: Estimate
  readonly residuals: Float64Array
}

const LEVER = 1.25

/** Null without a torque channel or with fewer than three levels at different currents. */
export function torqueSlope(levels: readonly SteadyLevel[]): TorqueSlope | null {
  const used = levels.filter(level => level.torque && level.current && level.current.value !== 0)
  const amps = used.map(level => Math.abs(level.current!.value))
  if (used.length < 3 || Math.max(...amps) < LEVER * Math.min(...amps)) return null
  const fit = errorsInVariables(
    [
      {
        values: used.map(level => level.current!.value),
        sigmas: used.map(level => level.current!.standardUncertainty),
      },
      { values: used.map(level => Math.sign(level.current!.value)), sigmas: null },
    ],
    used.map(level => level.torque!.value),
    used.map(level => level.torque!.standardUncertainty),
    { excess: true },
  )
  if (!fit.ok) return null
  const { coefficients, covariance, degreesOfFreedom, residuals } = fit.value
  const estimate = (j: number): Estimate => ({
    value: coefficients[j]!,
    standardUncertainty: Math.sqrt(covariance[j]![j]!),
    degreesOfFreedom,
  })
  return { slope: estimate(0), intercept: estimate(1), residuals }
}
