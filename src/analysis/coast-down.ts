import type { Result } from '../base/result.ts'
import type { TestRun } from '../records/test-run.ts'
import type { ZeroOffsets } from '../signals/run-signals.ts'
import type { AnalysisFault, KnownParameters } from './result.ts'
import { analyseTurning, type TurningAnalysis } from './turning-tests.ts'

/**
 * A coast-down: k_e from the voltage at open terminals over speed, T_c/J, B/J and C/J from the closed form of the
 * speed. What was driven before the coast is read as a run-up.
 */
export function analyseCoastDown(
  run: TestRun,
  known: KnownParameters = {},
  zeros: ZeroOffsets = {},
): Result<TurningAnalysis, AnalysisFault> {
  return analyseTurning(
    run,
    known,
    zeros,
    'back-EMF constant from open terminals; friction over inertia from the closed form of the speed',
    ({ coast, openTerminals }, { timeSec }) => {
      if (!timeSec) return 'a coast-down has to be a recording with a time column'
      return coast || openTerminals
        ? null
        : 'no stretch in which the shaft slows down without current; open the terminals at speed'
    },
  )
}
