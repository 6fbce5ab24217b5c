import type { Result } from '../base/result.ts'
import type { TestRun } from '../records/test-run.ts'
import type { ZeroOffsets } from '../signals/run-signals.ts'
import { type AnalysisFault, type KnownParameters, measured } from './result.ts'
import { analyseTurning, type TurningAnalysis } from './turning-tests.ts'

/**
 * A load test: i = T/k_t + drag(ω)/k_t over steady levels with a torque channel gives k_t apart from k_e. With a
 * constant known load alone it is read as a free run under that load.
 */
export function analyseLoad(
  run: TestRun,
  known: KnownParameters = {},
  zeros: ZeroOffsets = {},
): Result<TurningAnalysis, AnalysisFault> {
  const result = analyseTurning(
    run,
    known,
    zeros,
    'torque constant from current over load torque; back-EMF constant from steady levels',
    ({ levels }) =>
      levels.length > 0
        ? null
        : 'no steady level of a turning shaft with current and speed; hold each load until the speed is steady',
  )
  if (!result.ok) return result
  if (!run.recording.columns.torque && run.conditions.loadTorqueNm === 0) {
    const text =
      'a load test with neither a torque channel nor a known load: its load counts as friction; log the torque, or note the load'
    const warnings = [...result.value.warnings, { code: 'unknown-load', text }]
    return { ok: true, value: { ...result.value, warnings } }
  }
  const perTorque = result.value.moving.drag?.perTorque
  if (!perTorque || !(perTorque.value > 3 * perTorque.standardUncertainty)) return result
  const value = 1 / perTorque.value
  const uncertainty = perTorque.standardUncertainty * value ** 2
  const torqueConstant = measured(
    'N m/A',
    value,
    uncertainty,
    result.value.moving.drag!.degreesOfFreedom,
  )
  return {
    ok: true,
    value: { ...result.value, values: { ...result.value.values, torqueConstant } },
  }
}
