import type { CombFit } from './comb.ts'
import type { LevelFit } from './level-fit.ts'
import type { CombSettings } from './comb-settings.ts'
import type { Line } from './expected-lines.ts'

/** Free-running speed of brushed motors of up to some hundred watts: ln normal (common practice, no source), with a spread in
 * nepers. */
const USUAL_TURNS_PER_SEC = 2500 / 60
const SPEED_SPREAD = 1
/** Whoever records a steady speed records at least so many ripples; fewer are the less likely, by this power. */
const USUAL_RIPPLES = 150
const RIPPLES_POWER = 6
/** A level of speed that is too short to show its commutation at all. */
const UNSHOWN_COST = 5

/** The commutation's first line is the tallest of its multiples: a higher one costs so much a neper, up to a bound … */
const TALLER_MULTIPLE_COST = 4
const MOST_TALLER_COST = 8
/** … and of the unevenness only the lowest orders may be taller: others cost as much as this, from one neper on. */
const TALL_ORDERS = 4
const TALLER_UNEVENNESS_COST = 6
/** … and of what happens otherwise alike every turn, once and twice a turn. */
const TALL_SHAFT_ORDERS = 2
/** The commutation's line stands out of the unevenness on both sides of it, in nepers; less costs up to so much. */
const LEAST_STANDING_OUT = 2.5
const BURIED_COST = 6
/** None of the levels shows the commutation's own line. */
const UNSEEN_COST = 7

export interface RecordedLevel {
  readonly emfVolt: number
  readonly durationSec: number
}

/**
 * How likely a comb is for what motors and records are like, beside how well each of its lines fits: ln, up to a constant. The costs were set on the practice rig's ripple and on plain sums of lines, where they tell octaves and multiples of the
 * true rate from it better than heights of single lines do.
 */
export function logPriorOf(
  fits: readonly LevelFit[],
  levels: readonly RecordedLevel[],
  comb: CombSettings,
): number {
  const shown = fits.flatMap(({ fit }) => (fit === null ? [] : [fit]))
  const fastest = levels.reduce(
    (top, level, l) => (level.emfVolt > levels[top]!.emfVolt ? l : top),
    0,
  )
  const speed = Math.log(fits[fastest]!.turnRate / USUAL_TURNS_PER_SEC) / SPEED_SPREAD
  const ripples = Math.max(
    ...fits.map(({ turnRate }, l) => turnRate * comb.ripplesPerTurn * levels[l]!.durationSec),
  )
  const tooFew = RIPPLES_POWER * Math.max(0, Math.log(USUAL_RIPPLES / ripples))
  const unshown = shown.length < fits.length ? UNSHOWN_COST : 0
  return (
    -0.5 * speed * speed - tooFew - unshown - (shown.length > 0 ? costOfHeights(shown, comb) : 0)
  )
}

function costOfHeights(fits: readonly CombFit[], comb: CombSettings): number {
  const most = (excess: (fit: CombFit) => number) => Math.max(0, ...fits.map(excess))
  const multiple = most(fit => excessOf(fit, ({ kind }) => kind === 'commutation'))
  const uneven = most(fit =>
    excessOf(
      fit,
      ({ kind, order }) =>
        (kind === 'unevenness' && order > TALL_ORDERS) ||
        (kind === 'shaft' && order > TALL_SHAFT_ORDERS),
    ),
  )
  const buried = Math.min(1, Math.max(0, 1 - standingOut(fits[0]!, comb) / LEAST_STANDING_OUT))
  const isSeen = fits.some(({ lines }) => lines[0]!.peak !== null)
  return (
    Math.min(MOST_TALLER_COST, TALLER_MULTIPLE_COST * multiple) +
    TALLER_UNEVENNESS_COST * Math.min(1, uneven) +
    BURIED_COST * buried +
    (isSeen ? 0 : UNSEEN_COST)
  )
}

/** By how many nepers the tallest seen line of a kind stands above the commutation's first; −∞ where none is seen. */
function excessOf({ lines }: CombFit, isMeant: (line: Line) => boolean): number {
  const first = lines[0]!
  const others = lines.filter(line => line !== first && line.peak !== null && isMeant(line))
  return Math.max(...others.map(heightOf)) - heightOf(first)
}

/**
 * By how many nepers the commutation's line stands above both neighbours in the winding's pattern, in the mean; ∞ where these are not
 * seen, or are of the lowest orders, which may be tall.
 */
function standingOut({ lines }: CombFit, { ripplesPerTurn: n, stride }: CombSettings): number {
  const neighbours = lines.filter(
    ({ kind, order, peak }) =>
      kind === 'unevenness' &&
      Math.abs(order - n) === stride &&
      order > TALL_ORDERS &&
      peak !== null,
  )
  if (neighbours.length < 2) return Number.POSITIVE_INFINITY
  const mean = neighbours.reduce((sum, line) => sum + heightOf(line), 0) / neighbours.length
  return heightOf(lines[0]!) - mean
}

/** As tall as it would be were nothing averaged away. */
const heightOf = ({ height, averagedAway }: Line) => height + averagedAway
