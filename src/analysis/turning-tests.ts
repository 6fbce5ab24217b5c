import { failure, type Result, success } from '../base/result.ts'
import type { TestKind } from '../records/test-kind.ts'
import type { TestRun } from '../records/test-run.ts'
import { type RunSignals, readSignals, type ZeroOffsets } from '../signals/run-signals.ts'
import { type Moving, readMoving } from './moving.ts'
import { movingFitted } from './moving-fitted.ts'
import { movingValues, polarityWarnings } from './moving-values.ts'
import type { AnalysisFault, AnalysisWarning, KnownParameters, TestAnalysis } from './result.ts'

export interface TurningAnalysis extends TestAnalysis {
  readonly kind: TestKind
  readonly moving: Moving
}

/** What makes a turning test usable: null where it is, else what is missing in words, or what is wrong. */
export type Requirement = (moving: Moving, signals: RunSignals) => string | AnalysisFault | null

/**
 * The part that all tests of a turning shaft share: read what the recording holds, whatever its name, and fail
 * where it lacks what the named test is for.
 */
export function analyseTurning(
  run: TestRun,
  known: KnownParameters,
  zeros: ZeroOffsets,
  method: string,
  requirement: Requirement,
): Result<TurningAnalysis, AnalysisFault> {
  const signals = readSignals(run, zeros)
  if (!signals.speed) {
    return failure({
      code: 'missing-channel',
      text: `a ${run.kind} test needs a speed or position channel; where the current shows the commutation, its ripple tells the speed`,
    })
  }
  const moving = readMoving(signals, known)
  const missing = requirement(moving, signals)
  if (missing !== null) {
    return failure(
      typeof missing === 'string' ? { code: 'no-usable-data', text: missing } : missing,
    )
  }
  return success({
    kind: run.kind,
    method,
    moving,
    values: movingValues(moving, known),
    fitted: movingFitted(signals, moving, known),
    warnings: [...polarityWarnings(moving), ...openVoltageWarning(moving, signals)],
  })
}

function openVoltageWarning(moving: Moving, { voltage }: RunSignals): AnalysisWarning[] {
  if (!voltage || !moving.coastData || moving.openTerminals) return []
  return [
    {
      code: 'coast-voltage',
      text: 'the voltage channel reads nil while the terminals are open and the shaft turns; measure across the motor, then coasting gives the back-EMF constant',
    },
  ]
}
