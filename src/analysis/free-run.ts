import type { Result } from '../base/result.ts'
import type { TestRun } from '../records/test-run.ts'
import type { ZeroOffsets } from '../signals/run-signals.ts'
import type { AnalysisFault, KnownParameters } from './result.ts'
import { analyseTurning, type TurningAnalysis } from './turning-tests.ts'

/**
 * A free-run test: k_e from v − R i − V_b over speed, and T_c, B, C from the current over speed, in both
 * directions. Recordings and hand-read tables; R and V_b from `known`, at the temperature of this run.
 */
export function analyseFreeRun(
  run: TestRun,
  known: KnownParameters = {},
  zeros: ZeroOffsets = {},
): Result<TurningAnalysis, AnalysisFault> {
  return analyseTurning(
    run,
    known,
    zeros,
    'back-EMF constant from steady levels; friction from current over speed',
    ({ levels }) =>
      levels.length > 0
        ? null
        : 'no steady level of a turning shaft with current and speed; hold each voltage until the speed is steady',
  )
}
