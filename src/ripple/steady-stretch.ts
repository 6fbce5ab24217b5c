import { alias } from './alias.ts'
import { isTone, levelAt } from './astray.ts'
import type { EmfCourse, EmfPiece } from './emf-course.ts'
import type { IdentifiedComb } from './identify-comb.ts'
import type { ExpectedStretch, Measured } from './measure-stretch.ts'
import type { Switching } from './pwm-waveform.ts'
import { runUpTo } from './run-up.ts'
import { type AngleSettings, shaftAngle } from './shaft-angle.ts'
import { multiplesOf, ordersOf, SteadyEvidence } from './steady-evidence.ts'
import { steadyLines, type SteadyRatio, steadyRatio } from './steady-rate.ts'
import { tonesOf } from './tones.ts'

/** At a steady level the phases of one order at least stay, when the speed is right over the whole … */
export const STEADY_COHERENCE = 0.9
/** … and where nothing else followed the shaft, less is enough: noise of some windows alone gives half as much. */
export const LEAST_STEADY_COHERENCE = 0.6

/** The one speed of a stretch as a whole, samples of the piece. */
export interface SteadyFit {
  readonly from: number
  readonly to: number
  readonly turnsPerSample: number
  readonly relativeUncertainty: number
  /** Whether the winding's first orders leave it open. */
  readonly isDoubtful: boolean
  /** Whether the run-up to the stretch bears it out: then the speed did not change within it. */
  readonly isBorneOut: boolean
}

/**
 * Null where a stretch does not stand at a level of the comb, or nothing tells its speed as a whole. Where the switching stands
 * so near to the commutation that the stretch hardly resolves the two, the longer run-up to it decides.
 */
export function steadyFit(
  piece: EmfPiece,
  expected: Float64Array,
  from: number,
  to: number,
  comb: IdentifiedComb,
  course: EmfCourse,
): SteadyFit | null {
  const level = levelAt(expected, from, to, piece.start, comb.levels, course.rateHz)
  if (level === null) return null
  const speed = level.turnsPerSec / course.rateHz
  const stretch = piece.raw.subarray(from, to)
  const fitOf = (found: WholeRatio, isBorneOut: boolean): SteadyFit => ({
    from,
    to,
    turnsPerSample: speed * found.ratio,
    relativeUncertainty: found.standardUncertainty / found.ratio,
    // Beside the switching a phase that was followed is no better witness.
    isDoubtful: found.isDoubtful && !isBorneOut,
    isBorneOut,
  })
  const own = ratioTo(speed, stretch, piece.switching, comb)
  const isClear = own !== null && !own.isDoubtful && !isCrowded(speed, to - from, piece, comb)
  const longer = isClear ? null : runUpRatio(speed, piece, from, to, level.emfVolt, comb, course)
  if (longer === null) return own && fitOf(own, false)
  return own !== null && isAlike(own, longer) ? fitOf(own, true) : fitOf(longer, true)
}

/** A line of the switching within so many resolutions of the stretch pulls a line of the shaft. */
const CROWDED = 2

function isCrowded(
  turnsPerSample: number,
  count: number,
  { switching }: EmfPiece,
  comb: IdentifiedComb,
): boolean {
  if (switching === null) return false
  const tones = tonesOf(switching)
  return multiplesOf(comb).some(order => {
    const place = alias(order * turnsPerSample)
    return tones.some(tone => Math.abs(tone - place) * count < CROWDED)
  })
}

/** A resistance and a back-EMF known roughly leave this part of what the speed still changed. */
const CHANGE_DOUBT = 0.3

function runUpRatio(
  turnsPerSample: number,
  piece: EmfPiece,
  from: number,
  to: number,
  emfVolt: number,
  comb: IdentifiedComb,
  course: EmfCourse,
): WholeRatio | null {
  if (to - from < MOST_OF_IT * piece.raw.length) return null
  const before = runUpTo(piece, course, emfVolt, turnsPerSample, comb.ripplesPerTurn)
  const found = before && ratioTo(turnsPerSample, before.raw, piece.switching, comb)
  if (found === null) return null
  const periods = turnsPerSample * found.ratio * comb.ripplesPerTurn
  if (isTone(periods, before!.raw.length, piece.switching)) return null
  const ratio = found.ratio / (1 + before!.faster)
  const standardUncertainty = Math.hypot(found.standardUncertainty, CHANGE_DOUBT * before!.faster)
  return { ...found, ratio, standardUncertainty }
}

interface WholeRatio extends SteadyRatio {
  readonly isDoubtful: boolean
}

/**
 * The switching is allowed for in the fit itself: what taking it off before leaves behind is worse than the whole of it. The
 * commutation's own lines tell the speed best; where the winding's first orders contradict them, the
 * rate counts at which all of them stand out further, if that is clear.
 */
function ratioTo(
  turnsPerSample: number,
  stretch: Float64Array,
  switching: Switching | null,
  identified: IdentifiedComb,
): WholeRatio | null {
  const { ripplesPerTurn, stride } = identified
  const lines = steadyLines(stretch, turnsPerSample, ripplesPerTurn, switching)
  if (lines === null) return null
  const told = (orders: readonly number[]) => steadyRatio(lines, orders)
  const comb = { ripplesPerTurn, stride }
  const own = told(multiplesOf(comb))
  const all = told(ordersOf(comb))
  const ripples = stretch.length * turnsPerSample * ripplesPerTurn
  const sure = (found: SteadyRatio | null) =>
    found !== null && found.standardUncertainty * ripples < COARSEST
      ? { ...found, isDoubtful: false }
      : null
  if (own === null) return sure(all ?? told(steadyOrders(identified)))
  if (all === null) return { ...own, isDoubtful: true }
  if (isAlike(own, all)) return sure(own)
  const evidence = new SteadyEvidence({ raw: stretch, switching })
  const [ofOwn, ofAll] = [own, all].map(({ ratio }) =>
    evidence.of(turnsPerSample * ratio, comb, WITHIN_SHARE),
  ) as [number, number]
  if (Math.abs(ofOwn - ofAll) < LEAST_LEAD) return null
  return sure(ofOwn > ofAll ? own : all)
}

const LEAST_LEAD = 3
/**
 * What is told worse than this, in resolutions of the stretch at the commutation, is told by the winding's first orders alone, and
 * poorly: the phase tells more.
 */
const COARSEST = 0.2

/** Two rates are the same within so many standard uncertainties, or this part. */
const WITHIN_SIGMAS = 3
const WITHIN_SHARE = 3e-4

const isAlike = (a: SteadyRatio, b: SteadyRatio, share = WITHIN_SHARE) =>
  Math.abs(a.ratio - b.ratio) <
  Math.max(share, WITHIN_SIGMAS * Math.hypot(a.standardUncertainty, b.standardUncertainty))

export const stretchOf = (
  { from, to, turnsPerSample }: SteadyFit,
  length: number,
): ExpectedStretch => ({
  from,
  to,
  turnsPerSample: new Float64Array(length).fill(turnsPerSample),
  isSteady: true,
})

/** A commutation that the switching covers is left out, where others tell the speed. */
export const steadyOrders = ({ orders, isHidden }: IdentifiedComb) =>
  isHidden && orders.length > FEWEST_OTHERS ? orders.slice(1) : orders
const FEWEST_OTHERS = 2

export function agrees(
  piece: EmfPiece,
  { turnsPerSample, from, to }: ExpectedStretch,
  settle: Omit<AngleSettings, 'mostGrowth' | 'isSteady'>,
): number {
  const settings = { ...settle, mostGrowth: 1, isSteady: true }
  const angle = shaftAngle(piece, turnsPerSample, from, to, settings)
  return angle === null ? 0 : angle.coherence[0]!
}

/** What was followed must cover this part of the stretch to be preferred. */
const MOST_OF_IT = 0.7

/**
 * The phase may slip where the fit over the whole stretch does not. Where the two disagree, and the halves of the stretch
 * do not differ, it counts instead of what was followed.
 */
export function outvoted(
  measured: readonly Measured[],
  piece: EmfPiece,
  fit: SteadyFit,
  comb: IdentifiedComb,
): readonly Measured[] {
  const { from, to, turnsPerSample, relativeUncertainty, isDoubtful } = fit
  const within = Math.max(WITHIN_SHARE, WITHIN_SIGMAS * relativeUncertainty)
  const mostly = measured.filter(({ start, end }) => end - start > MOST_OF_IT * (to - from))
  const borneOut = mostly.some(
    ({ start, end, turns }) =>
      isDoubtful || Math.abs(turns.at(-1)! / (end - start) / turnsPerSample - 1) < within,
  )
  if (borneOut || !(fit.isBorneOut || isSteadyThroughout(piece, fit, comb))) return measured
  return [atOneSpeed(piece, fit)]
}

/** Half a stretch resolves the lines half as well: only a larger change of the speed between the halves counts. */
const HALVES_SHARE = 2e-3

function isSteadyThroughout(piece: EmfPiece, fit: SteadyFit, comb: IdentifiedComb): boolean {
  const { from, to, turnsPerSample } = fit
  const middle = (from + to) >> 1
  const ratioIn = (start: number, end: number) =>
    ratioTo(turnsPerSample, piece.raw.subarray(start, end), piece.switching, comb)
  const first = ratioIn(from, middle)
  const second = ratioIn(middle, to)
  return first === null || second === null || isAlike(first, second, HALVES_SHARE)
}

/** Readings that a stretch at one speed is worth. */
const READINGS = 16

function atOneSpeed(piece: EmfPiece, fit: SteadyFit): Measured {
  const { from, to, turnsPerSample, relativeUncertainty } = fit
  const turns = Float64Array.from({ length: to - from }, (_, i) => i * turnsPerSample)
  // A line through that many readings, each so uncertain, has the slope's uncertainty.
  const sigma = relativeUncertainty * turns.at(-1)! * Math.sqrt(READINGS / 12)
  return {
    start: piece.start + from,
    end: piece.start + to - 1,
    turns,
    angleUncertainty: sigma,
    windowSamples: (to - from) / READINGS,
  }
}
