import type { Result } from '../base/result.ts'
import type { TestRun } from '../records/test-run.ts'
import type { ZeroOffsets } from '../signals/run-signals.ts'
import type { AnalysisFault, KnownParameters } from './result.ts'
import { analyseTurning, type TurningAnalysis } from './turning-tests.ts'

/**
 * A run-up: J from ω(t) = ω₀ + (1/J) ∫ (k_t i − friction) dt, with the friction of `known` or, without it, of the
 * run itself.
 */
export function analyseRunUp(
  run: TestRun,
  known: KnownParameters = {},
  zeros: ZeroOffsets = {},
): Result<TurningAnalysis, AnalysisFault> {
  return analyseTurning(
    run,
    known,
    zeros,
    'inertia from the speed gained per charge, friction allowed for',
    ({ transient, reversed }, { timeSec, current }) => {
      if (!timeSec) return 'a run-up has to be a recording with a time column'
      if (!current) return 'a run-up needs a current channel'
      if (reversed) {
        return {
          code: 'speed-polarity',
          text: 'the speed falls where the current should raise it; turn the speed channel round',
        }
      }
      return transient ? null : 'no stretch in which a driven shaft changes its speed'
    },
  )
}
