import type { OctaveSpectrum } from '../numerics/spectrum/octave-spectrum.ts'
import type { CombSettings } from './comb-settings.ts'
import { expectedLines, type Line, type Sampling } from './expected-lines.ts'
import {
  COMMON_OFFSETS,
  commutationLine,
  type Expectation,
  type Offset,
  SHAFT_LINE,
  STEEPNESS,
  SWITCHING_LINE,
  SWITCHING_OFFSETS,
  UNEVEN_OFFSETS,
  unevennessLine,
  WINDING_LAGS,
} from './line-heights.ts'
import type { PeakList } from './peaks.ts'
import type { Carrier } from './pwm-waveform.ts'

/** One level of speed as one hypothesis explains it. */
export interface CombFit {
  readonly lines: readonly Line[]
  /** ln density of foreign lines over place and height. */
  readonly foreign: number
  /** What the lines cost that the hypothesis leaves to be foreign, against all of them being so. */
  readonly leftOver: number
  /** ln of (E/R)²: the current that the back-EMF would drive; null where that is not known. */
  readonly scale: number | null
  /** Whether the winding's inductance holds the ripple back: not with open terminals. */
  readonly lags: boolean
}

/** Heights of foreign lines are anywhere in this range of ln power. */
const FOREIGN_RANGE = 15

export interface LevelScale {
  readonly scale: number | null
  readonly lags: boolean
  readonly sampling: Sampling
  /** Harmonics of the switching that may carry lines of the shaft beside them. */
  readonly carriers: readonly Carrier[]
}

/** Null where the spectrum does not resolve the commutation. */
export function fitComb(
  spectrum: OctaveSpectrum,
  list: PeakList,
  turnRate: number,
  comb: CombSettings,
  { scale, lags, sampling, carriers }: LevelScale,
): CombFit | null {
  const lines = expectedLines(spectrum, list, turnRate, comb, carriers, sampling)
  if (lines.length === 0) return null
  const claimed = lines.filter(line => line.peak !== null).length
  const density = (count: number) => Math.log((count + 1) / list.bins / FOREIGN_RANGE)
  const foreign = density(list.peaks.length - claimed)
  // Against a spectrum of foreign lines alone, each of which would be as likely as this.
  const leftOver = list.peaks.length * (foreign - density(list.peaks.length))
  return { lines, foreign, leftOver, scale, lags }
}

/**
 * How well the lines at all levels of speed agree with a shaft that commutates n times a turn: ln likelihood over that of
 * foreign lines alone. Whatever happens alike every turn stands at whole multiples ("orders") of the rate of turning,
 * and the commutation at multiples of n. The tallest line need not be the commutation's: uneven segments make lines at twice a
 * turn and its multiples. What tells the rate is the whole comb: every order that the spectrum resolves shows with a
 * probability and a height of its own, and what it leaves unexplained must be foreign (hum, aliases), which is seldom.
 * What is not known and common to all lines (how strong the commutation is, how uneven the coils, how much the winding
 * holds back) is summed over with its prior.
 */
export function scoreComb(
  fits: readonly CombFit[],
  comb: CombSettings,
  detail: 'full' | 'coarse' = 'full',
): number {
  const step = detail === 'full' ? 1 : COARSE_STEP
  const coarsely = <T>(values: readonly T[]) => values.filter((_, k) => k % step === 0)
  const total = fits.reduce((sum, { leftOver }) => sum + leftOver, 0)
  const expected = fits.map(fit => expectedIn(fit, comb))
  const common = coarsely(COMMON_OFFSETS)
  const uneven = coarsely(UNEVEN_OFFSETS)
  const lags = coarsely(WINDING_LAGS)
  const overLags = lags.map(({ lagSec, prior }) => {
    const sumOver = (part: 'regular' | 'uneven', offset: number, steepness: number) => {
      let sum = 0
      for (const lines of expected) {
        for (const line of lines[part]) {
          const held = line.lagging > 0 ? Math.log1p(line.lagging * lagSec * lagSec) : 0
          const lower = held - offset + steepness * line.steepness
          sum += gain(line, line.away + lower / line.spread)
        }
      }
      return sum
    }
    const regular = STEEPNESS.map(
      steep =>
        steep.prior +
        logMean(
          common.map(({ offset, prior }) => prior + sumOver('regular', offset, steep.offset)),
          common,
        ),
    )
    const irregular = uneven.map(({ offset, prior }) => prior + sumOver('uneven', offset, 0))
    return prior + logMean(regular, STEEPNESS) + logMean(irregular, uneven)
  })
  return total + logMean(overLags, lags) + productsIn(expected, coarsely(SWITCHING_OFFSETS))
}

/** Each order of the shaft has a depth of its own at which it modulates the switching. */
function productsIn(
  expected: readonly { readonly mixed: ReadonlyMap<number, readonly ExpectedLine[]> }[],
  offsets: readonly Offset[],
): number {
  const orders = new Set(expected.flatMap(({ mixed }) => [...mixed.keys()]))
  return [...orders].reduce((sum, order) => {
    const lines = expected.flatMap(({ mixed }) => mixed.get(order) ?? [])
    const overOffsets = offsets.map(({ offset, prior }) =>
      lines.reduce((all, line) => all + gain(line, line.away - offset / line.spread), prior),
    )
    return sum + logMean(overOffsets, offsets)
  }, 0)
}

/** Of what is summed over, every so many values are enough to sift hypotheses. */
const COARSE_STEP = 3

interface ExpectedLine {
  /** What a density of heights is worth against foreign lines; 0 where nothing is seen. */
  readonly rarity: number
  readonly share: number
  readonly spread: number
  /** By how many spreads it stands above what is expected without lag and offset. */
  readonly away: number
  /** By how much it grows lower when the ripple grows smoother. */
  readonly steepness: number
  /** (2πf)², where the winding's lag lowers it; else 0. */
  readonly lagging: number
}

function expectedIn({ lines, foreign, scale, lags }: CombFit, comb: CombSettings) {
  const own = lines[0]!
  const base = scale ?? own.height - commutationLine(comb, 1).height
  const lineOf = (line: Line, { share, height, spread }: Expectation, above: number) => ({
    rarity: line.peak === null ? 0 : (share * Math.exp(-foreign)) / (spread * 2 * line.reachBins),
    share,
    spread,
    away: (line.height - above - height + line.averagedAway) / spread,
    steepness: line.kind === 'commutation' ? Math.log(line.order / comb.ripplesPerTurn) : 0,
    lagging: lags ? (2 * Math.PI * line.frequency) ** 2 : 0,
  })
  const regular: ExpectedLine[] = []
  const uneven: ExpectedLine[] = []
  const mixed = new Map<number, ExpectedLine[]>()
  for (const line of lines) {
    if (line.kind === 'commutation') {
      const multiple = line.order / comb.ripplesPerTurn
      regular.push(lineOf(line, commutationLine(comb, multiple), base))
    } else if (line.kind === 'unevenness') {
      uneven.push(lineOf(line, unevennessLine(comb, line.order), base))
    } else if (line.kind === 'shaft') uneven.push(lineOf(line, SHAFT_LINE, base))
    else {
      const alike = mixed.get(line.order) ?? []
      alike.push({ ...lineOf(line, SWITCHING_LINE, line.carrier!), lagging: 0 })
      mixed.set(line.order, alike)
    }
  }
  return { regular, uneven, mixed }
}

/** ln of the mean of what is given as ln, priors included, over the priors. */
function logMean(values: readonly number[], weights: readonly { prior: number }[]): number {
  return logSum(values) - logSum(weights.map(({ prior }) => prior))
}

function logSum(values: readonly number[]): number {
  const top = Math.max(...values)
  if (!(top > Number.NEGATIVE_INFINITY)) return top
  return top + Math.log(values.reduce((sum, value) => sum + Math.exp(value - top), 0))
}

/** One line in so many is out of the usual … */
const UNUSUAL = 0.1
/** … and then scatters so many times as much. */
const WIDER = 2.5

/** ln likelihood of a line as expected over that of a foreign one, or of its absence. */
function gain({ rarity, share }: ExpectedLine, away: number): number {
  const nearer = Math.max(-FARTHEST, Math.min(FARTHEST, away))
  const place = Math.round((nearer + FARTHEST) / TABLE_STEP)
  // A foreign line may hide it, too.
  const hidden = 1 - share + share * BELOW[place]!
  return Math.log(rarity * DENSITY[place]! + hidden)
}

const FARTHEST = 20
const TABLE_STEP = 0.02
const TABLE = Float64Array.from(
  { length: 2 * Math.round(FARTHEST / TABLE_STEP) + 1 },
  (_, k) => k * TABLE_STEP - FARTHEST,
)
/** Density and distribution of a height, in spreads from the one expected. */
const DENSITY = TABLE.map(away => {
  const wide = away / WIDER
  const usual = (1 - UNUSUAL) * Math.exp(-0.5 * away * away)
  return (usual + (UNUSUAL / WIDER) * Math.exp(-0.5 * wide * wide)) / Math.sqrt(2 * Math.PI)
})
const BELOW = TABLE.map(
  away => (1 - UNUSUAL) * normalShare(away) + UNUSUAL * normalShare(away / WIDER),
)

/** Φ(x), to 2 %. */
function normalShare(x: number): number {
  return 1 / (1 + Math.exp(-x * (1.5976 + 0.0706 * x * x)))
}
