import { type Result, success } from '../base/result.ts'
import type { TestRun } from '../records/test-run.ts'
import { readSignals, type ZeroOffsets } from '../signals/run-signals.ts'
import { analyseLockedRotor, type LockedRotorAnalysis } from './locked-rotor.ts'
import type { AnalysisFault, KnownParameters, TestAnalysis } from './result.ts'
import { analyseTurning, type TurningAnalysis } from './turning-tests.ts'

export interface MixedAnalysis extends TestAnalysis {
  readonly kind: 'mixed'
  /** The phases in which the shaft stood still under current; null without any. */
  readonly stall: LockedRotorAnalysis | null
  /** The phases in which it turned; null without any. */
  readonly turning: TurningAnalysis | null
}

/**
 * Several tests in one recording: the phases are found in the data, those with a still shaft are read as a locked
 * rotor and the rest as free run, run-up and coast-down.
 */
export function analyseMixed(
  run: TestRun,
  known: KnownParameters = {},
  zeros: ZeroOffsets = {},
): Result<MixedAnalysis, AnalysisFault> {
  const signals = readSignals(run, zeros)
  const held = signals.speed ? analyseLockedRotor(run, known, zeros) : null
  const stall = held?.ok && held.value.points.length >= 2 ? held.value : null
  const line = stall?.stall?.chosen
  const withStall: KnownParameters =
    line && !known.resistance
      ? {
          ...known,
          resistance: line.resistance,
          ...(line.brushDrop ? { brushDrop: line.brushDrop, brushKneeAmp: line.kneeAmp } : {}),
          resistanceBrushCovariance: line.covariance,
        }
      : known
  const turning = analyseTurning(
    run,
    withStall,
    zeros,
    'every phase by the method of its own test',
    moving =>
      moving.levels.length > 0 || moving.coast || moving.openTerminals || moving.transient
        ? null
        : 'no phase of a turning shaft',
  )
  if (!turning.ok && !stall) return turning
  const moving = turning.ok ? turning.value : null
  return success({
    kind: 'mixed',
    method: 'every phase by the method of its own test',
    stall,
    turning: moving,
    values: { ...stall?.values, ...moving?.values },
    fitted: { ...(moving ? {} : stall?.fitted), ...moving?.fitted },
    warnings: [
      ...(stall?.warnings ?? []).filter(warning => warning.code !== 'shaft-slipped'),
      ...(moving?.warnings ?? []),
    ],
  })
}
