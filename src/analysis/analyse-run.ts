import type { Result } from '../base/result.ts'
import type { TestRun } from '../records/test-run.ts'
import type { ZeroOffsets } from '../signals/run-signals.ts'
import { analyseBackDriven, type BackDrivenAnalysis } from './back-driven.ts'
import { analyseCoastDown } from './coast-down.ts'
import { analyseFreeRun } from './free-run.ts'
import { analyseHeating, type HeatingAnalysis } from './heating.ts'
import { analyseLoad } from './load.ts'
import { analyseLockedRotor, type LockedRotorAnalysis } from './locked-rotor.ts'
import { analyseMixed, type MixedAnalysis } from './mixed.ts'
import type { AnalysisFault, KnownParameters } from './result.ts'
import { analyseRunUp } from './run-up.ts'
import type { TurningAnalysis } from './turning-tests.ts'
import { analyseZero, type ZeroAnalysis } from './zero.ts'

export type RunAnalysis =
  | ZeroAnalysis
  | LockedRotorAnalysis
  | TurningAnalysis
  | BackDrivenAnalysis
  | HeatingAnalysis
  | MixedAnalysis

/** The analysis that belongs to the kind of a run. */
export function analyseRun(
  run: TestRun,
  known: KnownParameters = {},
  zeros: ZeroOffsets = {},
): Result<RunAnalysis, AnalysisFault> {
  switch (run.kind) {
    case 'zero':
      return analyseZero(run)
    case 'locked-rotor':
      return analyseLockedRotor(run, known, zeros)
    case 'free-run':
      return analyseFreeRun(run, known, zeros)
    case 'run-up':
      return analyseRunUp(run, known, zeros)
    case 'coast-down':
      return analyseCoastDown(run, known, zeros)
    case 'back-driven':
      return analyseBackDriven(run, zeros)
    case 'load':
      return analyseLoad(run, known, zeros)
    case 'heating':
      return analyseHeating(run, known, zeros)
    case 'mixed':
      return analyseMixed(run, known, zeros)
    default:
      return run.kind satisfies never
  }
}
