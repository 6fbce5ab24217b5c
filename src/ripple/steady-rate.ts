import { quantileOf } from '../statistics/robust.ts'
import type { Switching } from './pwm-waveform.ts'
import { untoned } from './tones.ts'
import { WindowedLines } from './windowed-lines.ts'

/** A steady speed does not need more values a ripple than this. */
const VALUES_A_RIPPLE = 12
/** Longer stretches are followed by their phase: the speed of none is steady for so many values. */
const MOST_VALUES = 2 ** 17
const LEAST_RIPPLES = 4
/** The rate is looked for within this part of what is expected … */
const REACH = 0.012
/** … in steps of this part of what the stretch resolves at the highest order. */
const STEP = 0.1
/** Of a frequency's neighbourhood, so many resolutions to either side tell the noise. */
const NEIGHBOURS = 24
/** The best rate must gather this many times the noise, over what chance gives. */
const LEAST_EXCESS = 12
/** Another rate within the reach must be less likely by this, ln. */
const LEAST_LEAD = 4
/** A rate told to no better than this, in resolutions at the highest order, stands where a tone hides most of a line. */
const FLATTEST = 1
/** A line counts for no more than this many times the noise when all are counted. */
const MOST_EXCESS = 400

/** Of a steady rate over the one expected. */
export interface SteadyRatio {
  readonly ratio: number
  /** From the curvature of the likelihood. */
  readonly standardUncertainty: number
}

/** A stretch at about one speed, ready to be asked for the lines of its shaft. */
export interface SteadyLines {
  /** Beside the switching and the mean. */
  readonly lines: WindowedLines
  /** The speed expected. */
  readonly turnsPerValue: number
}

/** Null where a stretch is too short, or so long that its phase tells more. */
export function steadyLines(
  ripple: Float64Array,
  turnsPerSample: number,
  ripplesPerTurn: number,
  switching: Switching | null,
): SteadyLines | null {
  const samplesARipple = 1 / (ripplesPerTurn * turnsPerSample)
  const most = Math.max(1, Math.floor(samplesARipple / VALUES_A_RIPPLE))
  const count = ripple.length / most
  if (count < LEAST_RIPPLES * VALUES_A_RIPPLE || count > MOST_VALUES) return null
  const { values, tones, together } = untoned(ripple, switching, most)
  return { lines: new WindowedLines(values, tones), turnsPerValue: turnsPerSample * together }
}

/**
 * By which factor a steady rate differs from the one expected, over a stretch as a whole: all orders that show must stand
 * at their places at once, so one that is lost in the noise, or a neighbour that is not, leads nobody astray, and what the
 * switching may have left near them counts for nothing. Maximum likelihood for lines in noise whose power around each
 * is not known: ν ln of what the line leaves over. Null where nothing stands out, or two rates do.
 *
 * @param orders of the shaft, those that were seen
 */
export function steadyRatio(
  { lines, turnsPerValue }: SteadyLines,
  orders: readonly number[],
): SteadyRatio | null {
  const seen = orders.filter(order => order * turnsPerValue * (1 + REACH) < 0.5)
  if (seen.length === 0) return null
  const turns = lines.count * turnsPerValue
  const highest = Math.max(...seen)
  const wide = Math.ceil((REACH * turns * highest) / STEP)
  const ratios = Array.from(
    { length: 2 * wide + 1 },
    (_, k) => 1 + ((k - wide) * STEP) / (turns * highest),
  )
  const score = new Float64Array(ratios.length)
  const gathered = new Float64Array(ratios.length)
  let counted = 0
  for (const order of seen) {
    const centre = order * turnsPerValue
    const floor = floorAt(lines, centre)
    if (!(floor > 0)) continue
    counted++
    const excess = lines.beside(ratios.map(ratio => centre * ratio)).map(power => power / floor)
    const most = excess.reduce((a, b) => Math.max(a, b), 0)
    for (const [k, value] of excess.entries()) {
      score[k]! -= NEIGHBOURS * Math.log1p((most - value) / NEIGHBOURS)
      gathered[k]! += value / (1 + value / MOST_EXCESS)
    }
  }
  const best = score.reduce((top, value, k) => (value > score[top]! ? k : top), 0)
  if (!(gathered[best]! > counted + LEAST_EXCESS) || !standsAlone(score, best)) return null
  const step = STEP / (turns * highest)
  const { away, curvature } = vertex(score, best)
  if (!(curvature > (STEP / FLATTEST) ** 2)) return null
  return { ratio: ratios[best]! + away * step, standardUncertainty: step / Math.sqrt(curvature) }
}

/** Mean power of the noise around a frequency: the median of exponential noise is ln 2 of it. */
function floorAt(lines: WindowedLines, centre: number): number {
  const near: number[] = []
  for (let k = -NEIGHBOURS; k <= NEIGHBOURS; k++) {
    const frequency = centre + k / lines.count
    if (frequency > 0 && frequency < 0.5) near.push(frequency)
  }
  const free = lines.beside(near).filter(power => power > 0)
  return free.length < NEIGHBOURS ? 0 : quantileOf(free, 0.5) / Math.LN2
}

/** Whether no other peak comes near the best one. */
function standsAlone(score: Float64Array, best: number): boolean {
  const isNear = (k: number) => score[k]! > score[best]! - LEAST_LEAD
  let [low, high] = [best, best]
  while (low > 0 && isNear(low - 1)) low--
  while (high + 1 < score.length && isNear(high + 1)) high++
  return score.every((_, k) => (k >= low && k <= high) || !isNear(k))
}

/** Of the parabola through the best step and its neighbours, in steps; no curvature at the end of the range. */
function vertex(score: Float64Array, best: number): { away: number; curvature: number } {
  if (best === 0 || best === score.length - 1) return { away: 0, curvature: 0 }
  const [left, right] = [score[best - 1]! - score[best]!, score[best + 1]! - score[best]!]
  const curvature = -(left + right)
  return { away: curvature > 0 ? (0.5 * (right - left)) / curvature : 0, curvature }
}
