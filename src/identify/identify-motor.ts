import { failure, type Result } from '../base/result.ts'
import type { FitDocument } from '../contract/fit-document.ts'
import type { ParameterName } from '../records/parameter.ts'
import type { TestRun } from '../records/test-run.ts'

/** How an identification is asked for. */
export interface FitSettings {
  /** Parameters held at a value, in SI. */
  readonly fixed: Readonly<Partial<Record<ParameterName, number>>>
  /** Parameters that are fitted even where the evidence would leave them out. */
  readonly freed: readonly ParameterName[]
  /** At which R, L and k are reported. */
  readonly referenceTemperatureCelsius: number
}

export interface FitProgress {
  readonly fraction: number
  readonly text: string
}

export function identifyMotor(
  _motor: string,
  _runs: readonly TestRun[],
  _settings: FitSettings,
  _progress: (progress: FitProgress) => boolean,
): Result<FitDocument, { text: string }> {
  return failure({ text: 'not yet' })
}
