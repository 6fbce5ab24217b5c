import type { Result } from '../base/result.ts'
import type { TestRun } from '../records/test-run.ts'
import type { RunSignals, ZeroOffsets } from '../signals/run-signals.ts'
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
    ({ levels }, signals) => {
      if (neverTurns(signals)) {
        return 'the shaft never turns while current flows: this looks like a locked rotor; log it as kind locked-rotor, or check the speed channel'
      }
      if (levels.length > 0) return null
      return signals.voltage === null
        ? 'without a voltage channel its levels are not told apart; it counts only where all runs are fitted together'
        : 'no steady level of a turning shaft with current and speed; hold each voltage until the speed is steady'
    },
  )
}

/** Speed near nil, rad/s: a turn a minute, less than any free motor runs at. */
const STILL = 0.1
/** 99.5 % of the readings of a normal noise lie within 2.8 of its standard deviations. */
const NOISE_ONLY = 3.5

function neverTurns({ speed, current, voltage }: RunSignals): boolean {
  const driven = current ? current.reach > 10 * current.noise : (voltage?.reach ?? 0) > 0
  return speed !== null && driven && speed.reach <= Math.max(NOISE_ONLY * speed.noise, STILL)
}
