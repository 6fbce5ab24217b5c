import { failure, type Result, success } from '../base/result.ts'
import { octaveSpectrum, type OctaveSpectrum } from '../numerics/spectrum/octave-spectrum.ts'
import { type Anchor, findAnchors } from './anchors.ts'
import type { CombSettings } from './comb-settings.ts'
import type { EmfCourse } from './emf-course.ts'
import {
  type CombCandidate,
  findCombs,
  type LevelSpectrum,
  type TurnRateRange,
} from './find-comb.ts'
import { isSwitching, SKIRT_BINS } from './peaks.ts'
import type { RippleFault } from './ripple-fault.ts'
import { type RippleSettings, usualRippleCounts } from './ripple-settings.ts'
import { type SpeedLevel, speedLevels } from './speed-levels.ts'

/** How fast the shaft turns for each volt of back-EMF, and by which lines that was told. */
export interface IdentifiedComb {
  readonly ripplesPerTurn: number
  readonly stride: number
  /** Turns a second at one volt, 1/(2πk); without a voltage, turns a second at the usual speed. */
  readonly turnsPerVoltSec: number
  readonly emfReachVolt: number
  /** Without a voltage: where the lines alone told the speed. */
  readonly anchors: readonly Anchor[]
  /** Turns a second at each level of speed that bore the comb out. */
  readonly levels: readonly CombLevel[]
  /** Orders that stand out, the commutation's first. */
  readonly orders: readonly number[]
  /** Whether the commutation's own line is not seen at the first level, since the switching or noise covers it. */
  readonly isHidden: boolean
  /** ln likelihood over that of the next best explanation. */
  readonly margin: number
  readonly candidates: readonly CombCandidate[]
}

export interface CombLevel {
  readonly emfVolt: number
  readonly turnsPerSec: number
  readonly terminals: 'closed' | 'open'
}

/**
 * A margin below this leaves two explanations standing. With a rough constant the rival is no octave but some other line
 * near by, and of those there are more than the likelihood counts.
 */
const LEAST_MARGIN = 5
const LEAST_MARGIN_WITH_CONSTANT = 6
/** Likelihood over foreign lines alone, from which on a comb counts as seen. */
const LEAST_TOTAL = 4
/**
 * Less is enough where a rough constant leaves a narrow range: a line that has nothing to do with
 * the commutation falls into it the more seldom.
 */
const LEAST_WITH_CONSTANT = 2.5
/** Explanations within this ratio are the same one. */
const SAME_SHARE = 0.06
/** The commutation must stay below this share of the sample rate. */
const HIGHEST_SHARE = 0.45
/** A prior counts out to so many standard uncertainties. */
const PRIOR_REACH = 3
const MOST_ORDERS = 6

export function identifyComb(
  course: EmfCourse,
  settings: RippleSettings,
): Result<IdentifiedComb, RippleFault> {
  if (course.pieces.some(piece => piece.emf === null)) return fromAnchors(course, settings)
  const levels = speedLevels(course)
  if (levels.length === 0) {
    return failure({
      code: 'not-turning',
      text: 'no stretch in which the shaft turns: the back-EMF v − R i is nowhere large enough',
    })
  }
  const spectra = levels.map(level => spectrumOf(level, course))
  const range = rangeOf(settings)
  const found = weighed(findCombs(spectra, combsOf(settings), range), settings)
  const tooFast = sampledTooSlowly(levels, course, settings)
  if (tooFast !== null) return failure(tooFast)
  const [best] = found
  const least = settings.backEmfConstant === null ? LEAST_TOTAL : LEAST_WITH_CONSTANT
  if (best === undefined || !(best.total > least)) {
    return failure(noRipple(levels, course, settings))
  }
  const rival = found.find(
    other => Math.abs(commutationOf(other) / commutationOf(best) - 1) > SAME_SHARE,
  )
  const margin = best.total - Math.max(0, rival?.total ?? 0)
  const leastMargin = settings.backEmfConstant === null ? LEAST_MARGIN : LEAST_MARGIN_WITH_CONSTANT
  if (rival !== undefined && rival.total > 0 && margin < leastMargin) {
    return failure(ambiguous(best, rival, levels[0]!))
  }
  const hidden = hiddenBySwitching(best, spectra[0]!)
  if (hidden !== null) return failure(hidden)
  return success({
    ripplesPerTurn: best.comb.ripplesPerTurn,
    stride: best.comb.stride,
    turnsPerVoltSec: best.turnsPerVoltSec,
    emfReachVolt: Math.max(...levels.map(level => level.emfVolt)),
    levels: levels.flatMap(({ emfVolt, terminals }, l) => {
      const { turnRate, score } = best.levels[l]!
      // The first one is what the rest was compared with.
      const counts = l === 0 || score > LEAST_TOTAL
      return counts ? [{ emfVolt, turnsPerSec: turnRate, terminals }] : []
    }),
    anchors: [],
    orders: ordersOf(best, course),
    isHidden: isHidden(best),
    margin,
    candidates: found,
  })
}

/** Candidates by their lines and by what is known of the constant, the likeliest first. */
function weighed(
  found: readonly CombCandidate[],
  { backEmfConstant }: RippleSettings,
): readonly CombCandidate[] {
  if (backEmfConstant === null) return found
  const { value, standardUncertainty } = backEmfConstant
  const spread = standardUncertainty / value
  return found
    .map(candidate => {
      const away = Math.log(2 * Math.PI * candidate.turnsPerVoltSec * value) / spread
      return { ...candidate, total: candidate.total - 0.5 * away * away }
    })
    .sort((a, b) => b.total - a.total)
}

function fromAnchors(
  course: EmfCourse,
  settings: RippleSettings,
): Result<IdentifiedComb, RippleFault> {
  const anchors = findAnchors(course, combsOf(settings))
  const best = anchors.reduce<Anchor | null>(
    (top, anchor) => (top === null || anchor.candidate.total > top.candidate.total ? anchor : top),
    null,
  )
  if (best === null) {
    return failure({
      code: 'no-ripple',
      text: 'no part of the record shows a comb of lines beyond doubt; with the voltage beside the current far less is enough',
    })
  }
  const { comb } = best.candidate
  return success({
    ripplesPerTurn: comb.ripplesPerTurn,
    stride: comb.stride,
    turnsPerVoltSec: best.turnsPerSec,
    emfReachVolt: 1,
    levels: [{ emfVolt: 1, turnsPerSec: best.turnsPerSec, terminals: 'closed' }],
    anchors: anchors.filter(
      ({ candidate }) => candidate.comb.ripplesPerTurn === comb.ripplesPerTurn,
    ),
    orders: ordersOf(best.candidate, course),
    isHidden: isHidden(best.candidate),
    margin: best.candidate.total,
    candidates: [best.candidate],
  })
}

/** What is left of the switching this near to the commutation, if it is higher, would be followed in its stead. */
const NEAR_SHARE = 1 / 16
const OWN_BINS = 4

function hiddenBySwitching(
  { comb, levels }: CombCandidate,
  { spectrum, switching }: LevelSpectrum,
): RippleFault | null {
  const commutationHz = levels[0]!.turnRate * comb.ripplesPerTurn
  if (switching === null) return null
  let own = 0
  let foreign = 0
  let foreignHz = 0
  for (const { binWidth, firstBin, meanSquare } of spectrum) {
    for (let b = 0; b < meanSquare.length; b++) {
      const hz = (firstBin + b) * binWidth
      if (Math.abs(hz / commutationHz - 1) > NEAR_SHARE) continue
      const away = Math.abs(hz - commutationHz) / binWidth
      if (away < OWN_BINS) own = Math.max(own, meanSquare[b]!)
      const covered = away > OWN_BINS && isSwitching(hz, binWidth, switching, SKIRT_BINS)
      if (covered && meanSquare[b]! > foreign) {
        foreign = meanSquare[b]!
        foreignHz = hz
      }
    }
  }
  if (foreign < own) return null
  return {
    code: 'switching-in-step',
    text: `the bridge's switching, as these samples show it, stands at ${foreignHz.toPrecision(4)} Hz, on or beside the commutation at ${commutationHz.toPrecision(4)} Hz: sample at another rate, or drive another voltage`,
  }
}

const commutationOf = ({ turnsPerVoltSec, comb }: CombCandidate) =>
  turnsPerVoltSec * comb.ripplesPerTurn

function spectrumOf(
  { segments, emfVolt, switching, terminals }: SpeedLevel,
  { rateHz, apertureSec, resistanceOhm }: EmfCourse,
): LevelSpectrum {
  const spectrum: OctaveSpectrum = octaveSpectrum(segments, rateHz)
  const scale = resistanceOhm === null ? null : 2 * Math.log(emfVolt / resistanceOhm)
  return {
    spectrum,
    emfVolt,
    switching,
    scale,
    lags: terminals === 'closed',
    sampling: { rateHz, apertureSec },
  }
}

function combsOf({ ripplesPerTurn, polePairs }: RippleSettings): CombSettings[] {
  if (ripplesPerTurn !== null)
    return [{ ripplesPerTurn, stride: strideOf(ripplesPerTurn, polePairs) }]
  const combs = new Map<string, CombSettings>()
  for (const count of usualRippleCounts()) {
    const stride = strideOf(count.ripplesPerTurn, count.polePairs)
    combs.set(`${count.ripplesPerTurn}/${stride}`, { ripplesPerTurn: count.ripplesPerTurn, stride })
  }
  return [...combs.values()]
}

/** The winding's pattern repeats 2p times a turn, if that divides the ripples. */
function strideOf(ripplesPerTurn: number, polePairs: number): number {
  const stride = 2 * polePairs
  return ripplesPerTurn % stride === 0 ? stride : 1
}

function rangeOf({ backEmfConstant }: RippleSettings): TurnRateRange {
  if (backEmfConstant === null) return { lowest: 0, highest: Number.POSITIVE_INFINITY }
  const { value, standardUncertainty } = backEmfConstant
  const reach = Math.exp(PRIOR_REACH * (standardUncertainty / value))
  const turns = 1 / (2 * Math.PI * value)
  return { lowest: turns / reach, highest: turns * reach }
}

/** With a known constant, the rate that the speed of this record needs. */
function sampledTooSlowly(
  levels: readonly SpeedLevel[],
  { rateHz }: EmfCourse,
  { backEmfConstant, ripplesPerTurn }: RippleSettings,
): RippleFault | null {
  if (backEmfConstant === null || ripplesPerTurn === null) return null
  const slowest = Math.min(...levels.map(level => level.emfVolt))
  const commutationHz = (ripplesPerTurn * slowest) / (2 * Math.PI * backEmfConstant.value)
  if (commutationHz < HIGHEST_SHARE * rateHz) return null
  const neededHz = roundUp(3 * commutationHz)
  return {
    code: 'sampled-too-slowly',
    neededHz,
    text: `sampled at ${rateHz.toPrecision(4)} Hz, but the commutation is expected at ${commutationHz.toPrecision(3)} Hz: ${neededHz} Hz would do`,
  }
}

/** Next of 1, 2, 5, 10, … at or above. */
function roundUp(value: number): number {
  const decade = 10 ** Math.floor(Math.log10(value))
  return decade * ([1, 2, 5].find(step => step * decade >= value * 0.9999) ?? 10)
}

function noRipple(
  levels: readonly SpeedLevel[],
  { rateHz }: EmfCourse,
  { ripplesPerTurn }: RippleSettings,
): RippleFault {
  const samples = levels.reduce((sum, { length }) => sum + length, 0)
  const highest = HIGHEST_SHARE * rateHz
  const bound =
    ripplesPerTurn === null
      ? `above ${highest.toPrecision(3)} Hz none could be seen`
      : `above ${((60 * highest) / ripplesPerTurn).toPrecision(3)} rpm none could be seen at this rate`
  return {
    code: 'no-ripple',
    text: `no ripple stands out in ${samples} samples at ${rateHz.toPrecision(4)} Hz (${bound}): record longer at a steady speed, faster, or in a more sensitive range`,
  }
}

function ambiguous(best: CombCandidate, rival: CombCandidate, level: SpeedLevel): RippleFault {
  const hz = (candidate: CombCandidate) => (commutationOf(candidate) * level.emfVolt).toPrecision(4)
  return {
    code: 'ambiguous',
    text: `the commutation may be at ${hz(best)} or at ${hz(rival)} Hz, and the lines do not decide: give a rough back-EMF constant, a tachometer reading, or a record at several speeds`,
  }
}

/**
 * Orders above half the sample rate show where they fold to, which is no place to follow them at; and the higher an
 * order of unevenness, the likelier it is something else that stands there.
 */
function ordersOf({ comb, levels }: CombCandidate, { rateHz }: EmfCourse): number[] {
  const n = comb.ripplesPerTurn
  const seen = levels[0]!
    .fit!.lines.filter(({ kind, peak }) => kind !== 'switching' && peak !== null)
    .filter(({ frequency }) => frequency < HIGHEST_SHARE * rateHz)
    .filter(({ order }) => (order % n === 0 ? order <= MOST_FOLLOWED * n : order < n))
    .toSorted((a, b) => b.peak!.evidence - a.peak!.evidence)
  const orders = seen.map(line => line.order).filter(order => order !== n)
  return [n, ...orders.slice(0, MOST_ORDERS - 1)]
}

/** Multiples of the commutation that are followed. */
const MOST_FOLLOWED = 3

/** Whether the switching covers the commutation's own line at the first level. */
const isHidden = ({ levels }: CombCandidate) => levels[0]!.fit!.lines[0]!.peak === null
