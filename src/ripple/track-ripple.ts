import { failure, type Result, success } from '../base/result.ts'
import type { RunSignals } from '../signals/run-signals.ts'
import { anchorReach, speedBetween } from './anchors.ts'
import { bridgeDips, runsOf } from './bridge-dips.ts'
import { identifyComb, type IdentifiedComb } from './identify-comb.ts'
import { emfCourse, type EmfCourse, type EmfPiece } from './emf-course.ts'
import { follow, type FollowRange } from './follow.ts'
import { isSwitching } from './peaks.ts'
import { cutPieces } from './pieces.ts'
import type { RippleFault } from './ripple-fault.ts'
import type { RippleSettings } from './ripple-settings.ts'
import { type AngleSettings, shaftAngle } from './shaft-angle.ts'
import { runningMean } from './speed-levels.ts'
import { turningStretches } from './lay-out.ts'

/** A stretch over which the shaft was followed without a break. */
export interface TrackedStretch {
  readonly terminals: 'closed' | 'open'
  /** Direction, from the sign of the back-EMF; positive where no voltage tells it. */
  readonly sign: 1 | -1
  /** Samples of the run, the last one included. */
  readonly start: number
  readonly end: number
  /** Turns since the start of the stretch, sample by sample. */
  readonly turns: Float64Array
  /** Standard uncertainty of the angle, turns: what two readings far apart have each. */
  readonly angleUncertainty: number
  /** Samples that one independent reading of the angle takes. */
  readonly windowSamples: number
}

export interface RippleTrack {
  readonly comb: IdentifiedComb
  readonly rateHz: number
  /** Time of sample 0 that the ripple belongs to: stamps less delay and half of the aperture. */
  readonly firstSec: number
  readonly stretches: readonly TrackedStretch[]
  readonly resistanceOhm: number | null
  readonly directionKnown: boolean
  readonly saturatedSamples: number
}

const LEAST_EMF_SHARE = 0.04
const SMOOTH_RIPPLES = 10
/**
 * Ways to a first angle, tried in turn until one keeps its phase nearly all along: a back-EMF smoothed over few ripples
 * keeps up with a start, one smoothed over many is quiet at a steady speed, and so are longer windows.
 */
const TRIES = [
  { smoothRipples: SMOOTH_RIPPLES, growth: 1 },
  { smoothRipples: 8 * SMOOTH_RIPPLES, growth: 1 },
  { smoothRipples: 8 * SMOOTH_RIPPLES, growth: 4 },
] as const
const NEARLY_ALL = 0.97
/** Two levels tell a drop of voltage if one is above the other by this factor. */
const LEVELS_APART = 1.3
/** By how much a resistance known roughly may put it wrong while much current flows. */
const NEAR: FollowRange = { low: -0.3, high: 0.3, stepSpread: 0.015 }
/** The back-EMF was good enough where this share of a stretch could be followed by it. */
const ENOUGH = 0.8
/** Around a window whose phases agree less than this the shaft is lost. */
const LEAST_COHERENCE = 0.75
/** In the last pass over a stretch, which measures, windows may grow so far. */
const LAST_GROWTH = 8
/** The phase's slope is smoothed over so many windows to either side when it corrects the speed. */
const SLOPE_REACH = 4

/** Speed and angle of a brushed motor's shaft from the ripple of its current, or of its voltage while it coasts. */
export function trackRipple(
  signals: RunSignals,
  settings: RippleSettings,
): Result<RippleTrack, RippleFault> {
  const { timeSec, current, voltage } = signals
  if (timeSec === null || signals.count < 2) {
    return fault('missing-channel', 'readings without a time column hold no ripple')
  }
  if (current === null && voltage === null) {
    return fault('missing-channel', 'ripple needs a current channel, or a voltage while coasting')
  }
  const cut = cutPieces(signals)
  if (cut.pieces.length === 0) {
    return cut.saturated > 0
      ? fault(
          'saturated',
          'the current stands at the end of its range: take a wider range, or couple the channel to AC',
        )
      : fault('too-short', 'no stretch of 32 samples without a gap')
  }
  const inStep = switchingInStep(signals, 1 / cut.periodSec, settings)
  if (inStep !== null) return fault('switching-in-step', inStep)
  const course = emfCourse(signals, cut, settings)
  const comb = identifyComb(course, settings)
  if (!comb.ok) return comb
  const stretches = course.pieces.flatMap(piece => trackPiece(piece, course, comb.value, settings))
  if (stretches.length === 0) {
    return fault('no-ripple', 'the ripple cannot be followed: it is lost in the noise')
  }
  const traits = (current ?? voltage)!.traits
  return success({
    comb: comb.value,
    rateHz: course.rateHz,
    firstSec: timeSec[0]! - traits.delaySec - traits.apertureSec / 2,
    stretches,
    resistanceOhm: course.resistanceOhm,
    directionKnown: voltage !== null,
    saturatedSamples: cut.saturated,
  })
}

/** Switching that folds to less than this share of the sample rate is in step with the samples. */
const STEP_SHARE = 2e-4

/**
 * A voltage read at one phase of the switching, over less than a period of it, is not the mean voltage that drives the
 * motor: nothing in the record would show that.
 */
function switchingInStep(
  { voltage }: RunSignals,
  rateHz: number,
  { switchingHz }: RippleSettings,
): string | null {
  if (switchingHz === null || voltage === null) return null
  const folded = Math.abs(switchingHz - rateHz * Math.round(switchingHz / rateHz))
  const periods = voltage.traits.apertureSec * switchingHz
  const whole = periods > 0.5 && Math.abs(periods - Math.round(periods)) < 0.05
  if (folded > STEP_SHARE * rateHz || whole || periods > 10) return null
  return `the samples at ${rateHz.toPrecision(5)} Hz keep step with the bridge's ${switchingHz.toPrecision(5)} Hz: each reads the voltage at the same moment of the pulse, not its mean; sample at a rate that is no part or multiple of it, or average over whole periods`
}

function trackPiece(
  piece: EmfPiece,
  course: EmfCourse,
  comb: IdentifiedComb,
  settings: RippleSettings,
): TrackedStretch[] {
  const emf = smoothed(piece.emf, comb, course.rateHz, SMOOTH_RIPPLES)
  const length = piece.ripple.length
  const speedOf = expectedSpeed(piece.terminals, comb, course.rateHz)
  const expected =
    emf === null
      ? speedBetween(comb.anchors, piece.start, length, course.rateHz, anchorReach(course))
      : emf.map(speedOf)
  const turning =
    emf === null
      ? turningStretches(expected, 0)
      : turningStretches(emf, LEAST_EMF_SHARE * comb.emfReachVolt)
  const settle = angleSettings(piece, course, comb, settings)
  return turning.flatMap(([from, to]) => {
    const sign = emf !== null && emf[from]! < 0 ? -1 : 1
    const once = { ...settle, orders: [], mostGrowth: 1 }
    let spans: Corrected[] = []
    for (const { smoothRipples, growth } of TRIES) {
      if (covered(spans) > NEARLY_ALL * (to - from)) break
      if (piece.emf === null && growth > 1) continue
      const quiet = smoothed(piece.emf, comb, course.rateHz, smoothRipples)
      const turnsPerSample = quiet === null ? expected : quiet.map(speedOf)
      const found = corrected(piece, { from, to, turnsPerSample }, { ...once, mostGrowth: growth })
      if (longest(found) > longest(spans)) spans = found
    }
    if (covered(spans) <= ENOUGH * (to - from)) {
      const found = followed(piece, expected, from, to, comb, NEAR).flatMap(span =>
        corrected(piece, span, once),
      )
      if (longest(found) > longest(spans)) spans = found
    }
    const last = { ...settle, mostGrowth: LAST_GROWTH }
    return spans.flatMap(span => {
      const strays = (found: Measured | null) =>
        found !== null &&
        emf !== null &&
        isAstray(found, piece.start, expected, comb, course.rateHz)
      let found = measured(piece, span, last)
      // The neighbour of an order was followed: once more, by the back-EMF alone.
      if (strays(found)) found = measured(piece, { ...span, turnsPerSample: expected }, last)
      if (found === null || strays(found)) return []
      if (isOnSwitching(found, piece.switching, comb, course.rateHz)) return []
      return [{ ...found, terminals: piece.terminals, sign } as const]
    })
  })
}

const covered = (spans: readonly Corrected[]) =>
  spans.reduce((sum, span) => sum + span.to - span.from, 0)
const longest = (spans: readonly Corrected[]) =>
  spans.reduce((most, span) => Math.max(most, span.to - span.from), 0)

function angleSettings(
  piece: EmfPiece,
  course: EmfCourse,
  { ripplesPerTurn, stride, orders }: IdentifiedComb,
  { inductanceHenry, resistanceOhm }: RippleSettings,
): Omit<AngleSettings, 'mostGrowth'> {
  const lags = piece.terminals === 'closed' && inductanceHenry !== null && resistanceOhm !== null
  const lagSec = lags ? inductanceHenry / resistanceOhm : 0
  return { ripplesPerTurn, stride, orders, lagSamples: lagSec * course.rateHz }
}

/** The back-EMF without its own ripple: a running mean over some ripples of the usual speed. */
function smoothed(
  emf: Float64Array | null,
  { emfReachVolt, turnsPerVoltSec, ripplesPerTurn }: IdentifiedComb,
  rateHz: number,
  ripples: number,
): Float64Array | null {
  if (emf === null) return null
  const usualHz = emfReachVolt * turnsPerVoltSec * ripplesPerTurn
  const half = Math.max(1, Math.round((ripples * rateHz) / usualHz / 2))
  return runningMean(emf, half)
}

/**
 * Turns a sample at a back-EMF. Where levels of speed differ, the line through them tells turns a volt and a voltage
 * that was not allowed for (brushes, resistance); open terminals have no such drop.
 */
function expectedSpeed(
  terminals: EmfPiece['terminals'],
  { levels, turnsPerVoltSec }: IdentifiedComb,
  rateHz: number,
): (emfVolt: number) => number {
  const alike = levels.filter(level => level.terminals === terminals)
  if (terminals === 'open' && alike[0] !== undefined) {
    const slope = alike[0].turnsPerSec / alike[0].emfVolt
    return emfVolt => (slope * Math.abs(emfVolt)) / rateHz
  }
  const used = alike.length > 0 ? alike : levels
  const low = used.reduce((a, b) => (b.emfVolt < a.emfVolt ? b : a), used[0]!)
  const high = used.reduce((a, b) => (b.emfVolt > a.emfVolt ? b : a), used[0]!)
  const apart = high.emfVolt > LEVELS_APART * low.emfVolt
  const slope = apart
    ? (high.turnsPerSec - low.turnsPerSec) / (high.emfVolt - low.emfVolt)
    : turnsPerVoltSec
  const drop = terminals === 'open' ? 0 : high.emfVolt - high.turnsPerSec / slope
  return emfVolt => (slope * Math.max(0, Math.abs(emfVolt) - drop)) / rateHz
}

interface Corrected {
  readonly from: number
  readonly to: number
  readonly turnsPerSample: Float64Array
}

/** Where the commutation could be followed at all, with the speed that it showed. */
function followed(
  piece: EmfPiece,
  expected: Float64Array,
  from: number,
  to: number,
  comb: IdentifiedComb,
  range: FollowRange,
): Corrected[] {
  const found = follow(piece, expected, from, to, comb.ripplesPerTurn, range)
  if (found === null) return []
  const { places, logRatio, believed } = found
  return runsOf(believed).map(([f, g]) => {
    const span = spanOf(places, f, g, from, to)
    const ratio = interpolated(places, logRatio, f, g)
    return { ...span, turnsPerSample: expected.map((speed, i) => speed * Math.exp(ratio(i))) }
  })
}

/** The parts of a stretch in which the ripple keeps its phase, with the expected speed put right by its drift. */
function corrected(piece: EmfPiece, span: Corrected, settings: AngleSettings): Corrected[] {
  const angle = shaftAngle(piece, span.turnsPerSample, span.from, span.to, settings)
  if (angle === null) return []
  const { places } = angle
  const ahead = angle.ahead.slice()
  const kept = angle.coherence.map(value => (value >= LEAST_COHERENCE ? 1 : 0))
  bridgeDips(places, ahead, kept, settings.ripplesPerTurn)
  const slopes = places.map((_, w) => {
    const a = Math.max(0, w - SLOPE_REACH)
    const b = Math.min(places.length - 1, w + SLOPE_REACH)
    return b > a ? (ahead[b]! - ahead[a]!) / (places[b]! - places[a]!) : 0
  })
  return runsOf(kept).map(([f, g]) => {
    const slope = interpolated(places, slopes, f, g)
    const part = spanOf(places, f, g, span.from, span.to)
    const turnsPerSample = span.turnsPerSample.map((speed, i) =>
      i >= part.from && i < part.to ? Math.max(0.5 * speed, speed + slope(i)) : speed,
    )
    return { ...part, turnsPerSample }
  })
}

type Measured = Omit<TrackedStretch, 'terminals' | 'sign'>

/** A stretch is at a level where both its halves are expected within this of the level's speed. */
const AT_LEVEL = 0.03
/** There the back-EMF tells the speed to this, by the level's own comb: a rough resistance counts for little. */
const LEVEL_SHARE = 0.0145

/** Whether what was followed at a steady level is not the commutation, against what the whole comb of that level told. */
function isAstray(
  { start, end, turns }: Measured,
  pieceStart: number,
  expected: Float64Array,
  { levels }: IdentifiedComb,
  rateHz: number,
): boolean {
  const [from, to] = [start - pieceStart, end - pieceStart]
  const middle = (from + to) >> 1
  const halves = [meanOf(expected, from, middle), meanOf(expected, middle, to)]
  const followed = turns.at(-1)! / (to - from)
  const isOff = (turnsPerSample: number) => Math.abs(followed / turnsPerSample - 1) > LEVEL_SHARE
  // The comb's own rate counts too: a voltage read in the middle of pulses is no mean voltage.
  return levels.some(({ turnsPerSec }) => {
    const isThere = halves.every(half => Math.abs((half * rateHz) / turnsPerSec - 1) < AT_LEVEL)
    return isThere && isOff(turnsPerSec / rateHz) && isOff(meanOf(expected, from, to))
  })
}

/** What was followed may be a line of the switching, where it stands still on one for as long as it was followed. */
function isOnSwitching(
  { start, end, turns }: Measured,
  switchingHz: number | null,
  { ripplesPerTurn }: IdentifiedComb,
  rateHz: number,
): boolean {
  if (switchingHz === null || end <= start) return false
  const resolutionHz = rateHz / (end - start)
  const followedHz = turns.at(-1)! * ripplesPerTurn * resolutionHz
  const switching = { frequency: switchingHz, sampleRate: rateHz }
  return isSwitching(followedHz, resolutionHz, switching, OWN_RESOLUTION)
}

/** A line that was followed is told this well, in resolutions of the stretch. */
const OWN_RESOLUTION = 0.3

function meanOf(values: Float64Array, from: number, to: number): number {
  let sum = 0
  for (let i = from; i < to; i++) sum += values[i]!
  return sum / Math.max(1, to - from)
}

function measured(
  piece: EmfPiece,
  { from, to, turnsPerSample }: Corrected,
  settings: AngleSettings,
): Measured | null {
  const found = shaftAngle(piece, turnsPerSample, from, to, settings)
  if (found === null || !Number.isFinite(found.uncertainty)) return null
  const { places, ahead, uncertainty, overlap } = found
  const last = places.length - 1
  const aheadAt = interpolated(places, ahead, 0, last)
  // Beyond the middle of the outermost windows the phase is known less and less: a hop is kept.
  const hop = last > 0 ? places[1]! - places[0]! : (to - from) / 2
  const endHop = last > 0 ? places[last]! - places[last - 1]! : hop
  const first = Math.max(from, Math.round(places[0]! - hop))
  const end = Math.min(to, Math.round(places[last]! + endHop))
  const turns = new Float64Array(end - first)
  let angle = 0
  for (let i = 0; i < turns.length; i++) {
    turns[i] = angle + aheadAt(first + i)
    angle += turnsPerSample[first + i]!
  }
  const start = turns[0]!
  return {
    start: piece.start + first,
    end: piece.start + end - 1,
    turns: turns.map(value => value - start),
    angleUncertainty: uncertainty,
    windowSamples: last > 0 ? ((places[last]! - places[0]!) / last) * overlap : to - from,
  }
}

/** From half way to the window before up to half way to the one after. */
function spanOf(places: Float64Array, f: number, g: number, from: number, to: number) {
  return {
    from: f === 0 ? from : Math.floor((places[f - 1]! + places[f]!) / 2),
    to: g === places.length - 1 ? to : Math.ceil((places[g]! + places[g + 1]!) / 2),
  }
}

/** Straight lines between the windows f to g; beyond them the line goes on. To be asked with rising places. */
function interpolated(places: Float64Array, values: Float64Array, f: number, g: number) {
  let h = f
  return (place: number) => {
    if (g === f) return values[f]!
    while (h < g - 1 && places[h + 1]! < place) h++
    const share = (place - places[h]!) / (places[h + 1]! - places[h]!)
    return values[h]! + share * (values[h + 1]! - values[h]!)
  }
}

function fault(code: Exclude<RippleFault['code'], 'sampled-too-slowly'>, text: string) {
  return failure<RippleFault>({ code, text } as RippleFault)
}
