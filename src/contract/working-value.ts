import type { ParameterName } from '../records/parameter.ts'
import type { FitDocument } from './fit-document.ts'

export interface WorkingValue {
  readonly value: number
  /** 0 where the value is held. */
  readonly standardUncertainty: number
}

/**
 * A parameter as the fit itself goes on with it: its result, else what the others were found beside; null where
 * the fit has none. Whoever calculates with several parameters needs these: a friction torque that was found
 * beside a viscous friction means nothing without it.
 */
export function workingValue(fit: FitDocument, name: ParameterName): WorkingValue | null {
  const { value, standardUncertainty } = fit.parameters[name]
  if (value !== null) return { value, standardUncertainty: standardUncertainty ?? 0 }
  return fit.model?.beside?.[name] ?? null
}
