import { quantileOf } from '../statistics/robust.ts'
import { alias } from './alias.ts'
import type { EmfCourse, EmfPiece } from './emf-course.ts'
import type { CombCandidate } from './find-comb.ts'
import { listPeaks, type Peak } from './peaks.ts'
import type { LevelSpectrum } from './level-fit.ts'
import type { SpeedLevel } from './speed-levels.ts'
import { multiplesOf } from './steady-evidence.ts'
import { steadyLines, steadyRatio } from './steady-rate.ts'

/** The commutation's line is so many times, in power, what a harmonic of a lower one could be: twice the amplitude. */
const CLEARLY_ABOVE = 4
/** Orders below the commutation that are looked for … */
const MOST_LOWER = 12
/** … and must be seen, each so many times the noise. */
const FEWEST_LOWER = 2
const LEAST_EXCESS = 12
/** Resolutions of the stretch to either side that tell the noise, but for the line's own. */
const NEIGHBOURS = 16
const OWN = 2
/** A line's top is where it is expected, within this part of a resolution. */
const TOP = 0.3
const TOP_STEPS = [-1.2, -0.9, -0.6, -0.35, 0.35, 0.6, 0.9, 1.2] as const
/** The mains show up to so many multiples, … */
const MAINS_HZ = [50, 60] as const
const MAINS_MULTIPLES = 20
/** … a bridge up to so many harmonics, folded at half the sample rate or not, … */
const HARMONICS = 24
/** … the first of them no smaller than this part, in power, of what would be a later one, … */
const AS_TALL = 0.5
/** … within so many resolutions, and this part of a bin for each multiple of what the first was told to. */
const NEAR = 0.6
const TOLD_BINS = 0.1

/**
 * Whether a comb that stands still can be nothing but a shaft's. What a bridge drives through an inductance falls in amplitude as
 * |sin πhD|/h², D being the duty: its harmonic h is 1/h of the first at most, and at parts of its rate it has
 * nothing. The commutation has lower orders below it where the winding or the rotor is uneven: here two at least of which it is
 * no such harmonic, and that are neither the mains' nor a harmonic, folded or not, of another line as tall as the commutation's.
 */
export function showsShaft(
  { comb, levels }: CombCandidate,
  level: SpeedLevel,
  shown: LevelSpectrum,
  course: EmfCourse,
): boolean {
  const longest = longestOf(level, course)
  const turns = levels[0]!.turnRate / course.rateHz
  const found = steadyLines(longest, turns, comb.ripplesPerTurn, null)
  const told = found && steadyRatio(found, multiplesOf(comb))
  if (found === null || told === null) return false
  const { lines, turnsPerValue } = found
  const powerOf = (place: number) => lines.beside([place])[0]!
  const commutation = powerOf(comb.ripplesPerTurn * turnsPerValue * told.ratio)
  const { peaks, near: peakNear } = listPeaks(shown.spectrum, null)
  const own = peakNear(comb.ripplesPerTurn * levels[0]!.turnRate * told.ratio, NEAR)
  if (own === null) return false
  const turnHz = levels[0]!.turnRate * told.ratio
  // One bridge alone switches: a line that does not have the commutation among its harmonics is not its.
  const isNoSource = (hz: number, meanSquare: number) =>
    isNoHarmonic(own.meanSquare, meanSquare, (comb.ripplesPerTurn * turnHz) / hz)
  const tall = peaks.filter(
    ({ frequency, meanSquare }) =>
      meanSquare > AS_TALL * own.meanSquare &&
      !(isOrder(frequency / turnHz, comb.ripplesPerTurn) && isNoSource(frequency, meanSquare)),
  )
  const resolutionHz = course.rateHz / longest.length
  const lower = Array.from({ length: MOST_LOWER }, (_, k) => k + 1).filter(order => {
    if (order >= comb.ripplesPerTurn) return false
    const place = order * turnsPerValue * told.ratio
    const power = powerOf(place)
    if (!isNoHarmonic(commutation, power, comb.ripplesPerTurn / order)) return false
    const beside = TOP_STEPS.map(step => ({ step, power: powerOf(place + step / lines.count) }))
    if (beside.some(other => Math.abs(other.step) > TOP && other.power > power)) return false
    const near: number[] = []
    for (let k = -NEIGHBOURS; k <= NEIGHBOURS; k++) {
      const other = place + k / lines.count
      if (Math.abs(k) > OWN && other > OWN / lines.count) near.push(powerOf(other))
    }
    // The median of exponential noise is ln 2 of its mean.
    if (power < (LEAST_EXCESS * quantileOf(near, 0.5)) / Math.LN2) return false
    const hz = order * turnHz
    return !isOfMains(hz, resolutionHz) && !isFolded(hz, tall, resolutionHz, course)
  })
  return lower.length >= FEWEST_LOWER
}

/** Whether a line is too tall to be that harmonic of another one, powers of both. */
const isNoHarmonic = (power: number, ofFirst: number, harmonic: number) =>
  power * harmonic ** 2 > CLEARLY_ABOVE * ofFirst

/** Turns are told to this part of a turn. */
const ORDER_SHARE = 0.03

const isOrder = (order: number, ripplesPerTurn: number) =>
  order > 0.5 && order < ripplesPerTurn - 0.5 && Math.abs(order - Math.round(order)) < ORDER_SHARE

function longestOf({ spans }: SpeedLevel, { pieces }: EmfCourse): Float64Array {
  const inside = ({ start, end }: EmfPiece) =>
    spans.filter(span => span.start >= start && span.end <= end)
  return pieces
    .flatMap(piece =>
      inside(piece).map(({ start, end }) =>
        piece.raw.subarray(start - piece.start, end - piece.start),
      ),
    )
    .reduce((top, part) => (part.length > top.length ? part : top))
}

function isOfMains(hz: number, resolutionHz: number): boolean {
  return MAINS_HZ.some(mains => {
    const multiple = Math.max(1, Math.round(hz / mains))
    return multiple <= MAINS_MULTIPLES && Math.abs(hz - multiple * mains) < NEAR * resolutionHz
  })
}

/** A line and its multiples fold to where those of the true one would, were it folded itself. */
function isFolded(
  lineHz: number,
  peaks: readonly Peak[],
  resolutionHz: number,
  { rateHz }: EmfCourse,
): boolean {
  return peaks.some(({ frequency, binWidth }) => {
    for (let harmonic = 2; harmonic <= HARMONICS; harmonic++) {
      const hz = rateHz * alias((harmonic * frequency) / rateHz)
      if (Math.abs(hz - lineHz) < NEAR * resolutionHz + TOLD_BINS * harmonic * binWidth) {
        return true
      }
    }
    return false
  })
}
