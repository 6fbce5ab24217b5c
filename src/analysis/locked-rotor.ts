import { failure, type Result, success } from '../base/result.ts'
import type { TestRun } from '../records/test-run.ts'
import { findPhases } from '../signals/phases.ts'
import { readSignals, type RunSignals, type ZeroOffsets } from '../signals/run-signals.ts'
import { steadyLevels } from '../signals/steady-levels.ts'
import { combineEstimates, type Estimate } from '../statistics/weighted-mean.ts'
import { type CurrentRise, fitCurrentRise } from './current-rise.ts'
import { type StallLackOfFit, stallLackOfFit } from './brush-curve.ts'
import {
  type AnalysisFault,
  type AnalysisWarning,
  type KnownParameters,
  type Measured,
  measured,
  type TestAnalysis,
} from './result.ts'
import { fitStallLine, type StallLine } from './stall-line.ts'
import { type StallPoint, stallPoints } from './stall-points.ts'
import { type TorqueSlope, torqueSlope } from './torque-slope.ts'

export interface LockedRotorAnalysis extends TestAnalysis {
  readonly kind: 'locked-rotor'
  /** At the winding temperature at which the run began; null for a table of torque alone. */
  readonly line: StallLine | null
  readonly points: readonly StallPoint[]
  readonly lackOfFit: StallLackOfFit | null
  readonly inductance: Estimate | null
  readonly torque: TorqueSlope | null
}

/**
 * A locked-rotor test: R and V_b from steady levels (errors in both readings, both polarities, R at zero heating
 * time), L from the current rise after each step, k_t from a torque channel. Recordings and hand-read tables.
 */
export function analyseLockedRotor(
  run: TestRun,
  known: KnownParameters = {},
  zeros: ZeroOffsets = {},
): Result<LockedRotorAnalysis, AnalysisFault> {
  const signals = readSignals(run, zeros)
  if (!signals.current) {
    return fault('missing-channel', 'a locked-rotor test needs a current channel')
  }
  const torque = torqueSlope(steadyLevels(signals))
  if (!signals.voltage && !torque) {
    return fault('missing-channel', 'a locked-rotor test needs voltage or torque beside the current')
  }
  const warnings: AnalysisWarning[] = []
  const { points, slipped } = signals.voltage
    ? stallPoints(signals)
    : { points: [], slipped: 0 }
  if (slipped > 0) {
    warnings.push({
      code: 'shaft-slipped',
      text: `the shaft moved during ${slipped} of ${slipped + points.length} levels, which are left out; check the clamp`,
    })
  }
  const line = points.length > 0 ? fitStallLine(points, known.brushDrop) : null
  if (signals.voltage && !line && !torque) {
    return fault(
      'no-usable-data',
      slipped > 0
        ? 'the shaft moved in every level of the locked-rotor test; check the clamp'
        : 'no steady level with voltage, current and a still shaft',
    )
  }
  if (line && !line.ok) return fault('no-usable-data', line.error)
  const stall = line?.value ?? null
  if (stall && !(stall.resistance.value > 0)) {
    return fault(
      'no-usable-data',
      'the current does not rise with the voltage; check the polarity and assignment of both channels',
    )
  }
  const rises = stall ? currentRises(signals, stall, known.brushDrop) : []
  const inductance =
    rises.length > 0 ? combineEstimates(rises.map(rise => rise.inductanceHenry)) : null
  const lackOfFit = stall && stallLackOfFit(points, stall.residualVolt)
  if (lackOfFit?.found) {
    warnings.push({ code: 'lack-of-fit', text: `straight line of the locked rotor: ${lackOfFit.text}` })
  }
  if (stall && !stall.brushDrop) {
    warnings.push({
      code: 'one-level',
      text: known.brushDrop
        ? 'one current level only: the resistance rests on the brush drop of the other runs'
        : 'one current level only: the resistance holds the brush drop too; drive a second level',
    })
  }
  return success({
    kind: 'locked-rotor',
    method: 'straight line through steady levels, errors in both readings; exponential current rise',
    line: stall,
    points,
    lackOfFit,
    inductance,
    torque,
    values: valuesOf(stall, inductance, torque, points),
    fitted: fittedColumns(signals, stall, known.brushDrop, rises),
    warnings,
  })
}

function currentRises(
  signals: RunSignals,
  stall: StallLine,
  known: Estimate | undefined,
): CurrentRise[] {
  const drop = stall.brushDrop?.value ?? known?.value ?? 0
  return findPhases(signals).phases.flatMap(phase => {
    const rise = phase.kind === 'drive' ? fitCurrentRise(signals, phase, drop) : null
    return rise ? [rise] : []
  })
}

function valuesOf(
  stall: StallLine | null,
  inductance: Estimate | null,
  torque: TorqueSlope | null,
  points: readonly StallPoint[],
): Record<string, Measured> {
  const values: Record<string, Measured> = {}
  const add = (name: string, unit: string, e: Estimate | null) => {
    if (e) values[name] = measured(unit, e.value, e.standardUncertainty, e.degreesOfFreedom)
  }
  add('resistance', 'ohm', stall?.resistance ?? null)
  add('brushDrop', 'V', stall?.brushDrop ?? null)
  add('inductance', 'H', inductance)
  add('torqueConstant', 'N m/A', torque?.slope ?? null)
  add('torqueIntercept', 'N m', torque?.intercept ?? null)
  if (stall && stall.heatingPerJoule > 0) {
    const joules = Math.max(...points.map(point => point.energyJoule))
    values.heatingRise = measured('', stall.heatingPerJoule * joules, Number.NaN)
  }
  return values
}

/** Where a rise was fitted, that; at the levels the straight line. */
function fittedColumns(
  signals: RunSignals,
  stall: StallLine | null,
  known: Estimate | undefined,
  rises: readonly CurrentRise[],
) {
  if (!stall || !signals.voltage) return {}
  const drop = stall.brushDrop?.value ?? known?.value ?? 0
  const current = signals.voltage.values.map(volt =>
    Math.abs(volt) > drop ? (volt - Math.sign(volt) * drop) / stall.resistance.value : 0,
  )
  for (const rise of rises) current.set(rise.fittedAmp, rise.start)
  return { current }
}

function fault(code: AnalysisFault['code'], text: string) {
  return failure<AnalysisFault>({ code, text })
}
