import { failure, type Result, success } from '../base/result.ts'
import type { TestRun } from '../records/test-run.ts'
import { findPhases, type Phase } from '../signals/phases.ts'
import { type RunSignals, readSignals, type ZeroOffsets } from '../signals/run-signals.ts'
import { plainMean, steadyLevels } from '../signals/steady-levels.ts'
import { combineEstimates, type Estimate } from '../statistics/weighted-mean.ts'
import { judgeStallLine, type StallVerdict } from './brush-curve.ts'
import { type BrushModel, brushVolt } from './brush-model.ts'
import { type CurrentRise, fitCurrentRise } from './current-rise.ts'
import {
  type AnalysisFault,
  type AnalysisWarning,
  type KnownParameters,
  type Measured,
  measured,
  type TestAnalysis,
} from './result.ts'
import { fitStallLine } from './stall-line.ts'
import { type StallPoint, slippedPulses, stallPoints } from './stall-points.ts'
import { type TorqueSlope, torqueSlope } from './torque-slope.ts'

export interface LockedRotorAnalysis extends TestAnalysis {
  readonly kind: 'locked-rotor'
  /** At the winding temperature at which the run began; null for a table of torque alone. */
  readonly stall: StallVerdict | null
  readonly points: readonly StallPoint[]
  readonly inductance: Estimate | null
  readonly torque: TorqueSlope | null
}

/** More rises than this add nothing but time. */
const MOST_STEPS = 12

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
  if (!signals.voltage) {
    if (torque) return success(torqueOnly(torque))
    const text =
      'a locked-rotor test needs voltage, or torque at several currents, beside the current'
    return fault('missing-channel', text)
  }
  const { points, slipped } = stallPoints(signals, 0)
  if (points.length === 0) {
    return fault('no-usable-data', nothingHeld(signals, slipped))
  }
  const first = fitStall(points, known)
  if (!first.ok) return fault('no-usable-data', first.error)
  const steps = largeSteps(signals)
  // The inductance tells how far a current had yet to go at the end of a short pulse.
  const rough = meanInductance(
    currentRises(signals, steps.slice(0, 2), brushOf(first.value, known)),
  )
  const settled = rough ? stallPoints(signals, rough.value).points : points
  const second = fitStall(settled, known)
  if (!second.ok) return fault('no-usable-data', second.error)
  const stall = second.value
  if (!(stall.chosen.resistance.value > 0)) {
    const text =
      'the voltage does not rise with the current; check polarity and assignment of both channels'
    return fault('no-usable-data', text)
  }
  const brush = brushOf(stall, known)
  const rises = currentRises(signals, steps.slice(0, MOST_STEPS), brush)
  const inductance = meanInductance(rises)
  return success({
    kind: 'locked-rotor',
    method: 'line through steady levels, errors in both readings; exponential current rise',
    stall,
    points: settled,
    inductance,
    torque,
    values: valuesOf(stall, inductance, torque),
    fitted: { current: fittedCurrent(signals, stall, brush, rises) },
    warnings: warningsOf(stall, known, slipped, settled.length),
  })
}

function nothingHeld({ speed }: RunSignals, slipped: number): string {
  if (slipped > 0 && !speed) {
    return 'the current falls again while the voltage is held: the shaft slipped in the locked-rotor test; check the clamp'
  }
  if (slipped > 0 || (speed && speed.reach > Math.max(6 * speed.noise, 1))) {
    return `the shaft turned in the locked-rotor test, up to ${Number(speed!.reach.toPrecision(3))} rad/s; check the clamp`
  }
  return 'no steady level with voltage, current and a still shaft; hold each level until the current is steady'
}

function torqueOnly(torque: TorqueSlope): LockedRotorAnalysis {
  return {
    kind: 'locked-rotor',
    method: 'straight line of torque over current',
    stall: null,
    points: [],
    inductance: null,
    torque,
    values: valuesOf(null, null, torque),
    fitted: {},
    warnings: [],
  }
}

function fitStall(
  points: readonly StallPoint[],
  known: KnownParameters,
): Result<StallVerdict, string> {
  const line = fitStallLine(points, known.brushDrop)
  return line.ok ? success(judgeStallLine(line.value, points)) : line
}

function brushOf({ chosen }: StallVerdict, known: KnownParameters): BrushModel {
  return chosen.brushDrop
    ? { dropVolt: chosen.brushDrop.value, kneeAmp: chosen.kneeAmp }
    : { dropVolt: known.brushDrop?.value ?? 0, kneeAmp: known.brushKneeAmp ?? 0 }
}

/** Steps of half the largest or more: in smaller ones the brush drop is still building up. */
function largeSteps(signals: RunSignals): Phase[] {
  const amp = signals.current!.values
  const gaveWay = slippedPulses(signals)
  const driven = findPhases(signals).phases.filter(
    phase => phase.kind === 'drive' && !gaveWay.includes(phase),
  )
  const changes = driven.map(({ start, end }) => {
    const final = plainMean(amp, end - Math.max(3, (end - start) >> 3), end)
    return Math.abs(final - (start > 4 ? plainMean(amp, start - 4, start) : amp[start]!))
  })
  const largest = Math.max(...changes)
  return driven
    .map((phase, i) => ({ phase, change: changes[i]! }))
    .filter(({ change }) => change >= largest / 2)
    .sort((a, b) => b.change - a.change)
    .map(({ phase }) => phase)
}

function currentRises(
  signals: RunSignals,
  steps: readonly Phase[],
  brush: BrushModel,
): CurrentRise[] {
  return steps.flatMap(step => fitCurrentRise(signals, step, brush) ?? [])
}

function meanInductance(rises: readonly CurrentRise[]): Estimate | null {
  return rises.length > 0 ? combineEstimates(rises.map(rise => rise.inductanceHenry)) : null
}

function valuesOf(
  stall: StallVerdict | null,
  inductance: Estimate | null,
  torque: TorqueSlope | null,
): Record<string, Measured> {
  const values: Record<string, Measured> = {}
  const add = (name: string, unit: string, e: Estimate | null | undefined) => {
    if (e) values[name] = measured(unit, e.value, e.standardUncertainty, e.degreesOfFreedom)
  }
  add('resistance', 'ohm', stall?.line.resistance)
  add('brushDrop', 'V', stall?.line.brushDrop)
  add('resistanceBesideCurvedDrop', 'ohm', stall?.curve?.resistance)
  add('curvedBrushDrop', 'V', stall?.curve?.brushDrop)
  add('inductance', 'H', inductance)
  add('torqueConstant', 'N m/A', torque?.slope)
  add('heldTorque', 'N m', torque?.intercept)
  return values
}

/** Where a rise was fitted, that; elsewhere the settled current at the voltage of the sample. */
function fittedCurrent(
  signals: RunSignals,
  { chosen }: StallVerdict,
  brush: BrushModel,
  rises: readonly CurrentRise[],
): Float64Array {
  const ohm = chosen.resistance.value
  const current = signals.voltage!.values.map((volt, i) => {
    const measuredAmp = signals.current!.values[i]!
    return (volt - brushVolt(brush, measuredAmp)) / ohm
  })
  for (const rise of rises) current.set(rise.fittedAmp, rise.start)
  return current
}

function warningsOf(
  stall: StallVerdict,
  known: KnownParameters,
  slipped: number,
  held: number,
): AnalysisWarning[] {
  const warnings: AnalysisWarning[] = []
  if (slipped > 0) {
    warnings.push({
      code: 'shaft-slipped',
      text: `the shaft moved in ${slipped} of ${slipped + held} levels, which are left out; check the clamp`,
    })
  }
  // A curve that takes the line's place leaves nothing to warn of.
  if (stall.lackOfFit && stall.chosen === stall.line) {
    warnings.push({ code: 'lack-of-fit', text: `locked rotor, lack of fit ${stall.text}` })
  }
  if (!stall.chosen.brushDrop) {
    warnings.push({
      code: 'one-level',
      text: known.brushDrop
        ? 'one current level only: the resistance rests on the brush drop of the other runs'
        : 'one current level only: the resistance holds the brush drop too; drive a second level',
    })
  }
  return warnings
}

function fault(code: AnalysisFault['code'], text: string) {
  return failure<AnalysisFault>({ code, text })
}
