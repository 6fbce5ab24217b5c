import { levelAt } from './astray.ts'
import type { EmfPiece } from './emf-course.ts'
import type { IdentifiedComb } from './identify-comb.ts'
import type { ExpectedStretch, Measured } from './measure-stretch.ts'
import { type AngleSettings, shaftAngle } from './shaft-angle.ts'
import { multiplesOf, ordersOf, SteadyEvidence } from './steady-evidence.ts'
import { steadyLines, type SteadyRatio, steadyRatio } from './steady-rate.ts'

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
}

/** Null where a stretch does not stand at a level of the comb, or nothing tells its speed as a whole. */
export function steadyFit(
  piece: EmfPiece,
  expected: Float64Array,
  from: number,
  to: number,
  comb: IdentifiedComb,
  rateHz: number,
): SteadyFit | null {
  const level = levelAt(expected, from, to, piece.start, comb.levels, rateHz)
  if (level === null) return null
  const speed = level.turnsPerSec / rateHz
  const found = ratioTo(speed, piece, from, to, comb)
  if (found === null) return null
  const relativeUncertainty = found.standardUncertainty / found.ratio
  const { ratio, isDoubtful } = found
  return { from, to, turnsPerSample: speed * ratio, relativeUncertainty, isDoubtful }
}

/**
 * The switching is allowed for in the fit itself: what taking it off before leaves behind is worse than the whole of it. The
 * commutation's own lines tell the speed best; where the winding's first orders contradict them, the
 * rate counts at which all of them stand out further, if that is clear.
 */
function ratioTo(
  turnsPerSample: number,
  { raw, switching }: EmfPiece,
  from: number,
  to: number,
  identified: IdentifiedComb,
): (SteadyRatio & { readonly isDoubtful: boolean }) | null {
  const { ripplesPerTurn, stride } = identified
  const stretch = raw.subarray(from, to)
  const lines = steadyLines(stretch, turnsPerSample, ripplesPerTurn, switching)
  if (lines === null) return null
  const told = (orders: readonly number[]) => steadyRatio(lines, orders)
  const comb = { ripplesPerTurn, stride }
  const own = told(multiplesOf(comb))
  const all = told(ordersOf(comb))
  const sure = (found: SteadyRatio | null) => found && { ...found, isDoubtful: false }
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
  if (borneOut || !isSteadyThroughout(piece, fit, comb)) return measured
  return [atOneSpeed(piece, fit)]
}

/** Half a stretch resolves the lines half as well: only a larger change of the speed between the halves counts. */
const HALVES_SHARE = 2e-3

function isSteadyThroughout(piece: EmfPiece, fit: SteadyFit, comb: IdentifiedComb): boolean {
  const { from, to, turnsPerSample } = fit
  const middle = (from + to) >> 1
  const first = ratioTo(turnsPerSample, piece, from, middle, comb)
  const second = ratioTo(turnsPerSample, piece, middle, to, comb)
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
