import type { ParameterName } from '../records/parameter.ts'
import { PARAMETERS } from '../records/parameter.ts'
import type { FitDocument } from './fit-document.ts'

/**
 * The parameters of an identified motor as numbers to calculate with: values at the reference temperature
 * and their covariance, in one order. Parameters that are not determined are absent; those not in the model
 * are 0 and certain.
 */
export interface MotorEstimate {
  readonly motor: string
  readonly referenceTemperatureCelsius: number
  readonly names: readonly ParameterName[]
  readonly values: readonly number[]
  readonly covariance: readonly (readonly number[])[]
}

/** Parameters whose absence from the model means nought. */
const NOUGHT_WHEN_ABSENT: ReadonlySet<ParameterName> = new Set<ParameterName>([
  'brushDrop',
  'coulombTorque',
  'staticTorque',
  'viscousCoefficient',
  'windageCoefficient',
  'offsetTorque',
])

export function motorEstimate(fit: FitDocument): MotorEstimate {
  const names: ParameterName[] = []
  const values: number[] = []
  const deviations: number[] = []
  for (const name of PARAMETERS) {
    const result = fit.parameters[name]
    const isNought = result?.status === 'not-in-model' && NOUGHT_WHEN_ABSENT.has(name)
    const value = result?.value ?? (isNought ? 0 : null)
    if (value === null) continue
    names.push(name)
    values.push(value)
    deviations.push(result?.standardUncertainty ?? 0)
  }
  return {
    motor: fit.motor,
    referenceTemperatureCelsius: fit.referenceTemperatureCelsius,
    names,
    values,
    covariance: covarianceOf(fit, names, deviations),
  }
}

/** @param deviations standard uncertainty of each, in the order of the names */
export function covarianceOf(
  fit: FitDocument,
  names: readonly ParameterName[],
  deviations: readonly number[],
): number[][] {
  return names.map((a, i) =>
    names.map((b, j) => deviations[i]! * deviations[j]! * correlationOf(fit, a, b)),
  )
}

function correlationOf(fit: FitDocument, a: ParameterName, b: ParameterName): number {
  if (a === b) return 1
  const { names, matrix } = fit.correlation
  const i = names.indexOf(a)
  const j = names.indexOf(b)
  if (i >= 0 && j >= 0) return matrix[i]?.[j] ?? 0
  // A tied torque constant is the back-EMF constant.
  const tied = fit.parameters.torqueConstant?.status === 'tied'
  if (tied && a === 'torqueConstant') return correlationOf(fit, 'backEmfConstant', b)
  if (tied && b === 'torqueConstant') return correlationOf(fit, a, 'backEmfConstant')
  return 0
}
