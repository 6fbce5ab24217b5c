import { failure, type Result, success } from '../base/result.ts'
import { octaveSpectrum, type OctaveSpectrum } from '../numerics/spectrum/octave-spectrum.ts'
import { alias } from './alias.ts'
import type { EmfCourse } from './emf-course.ts'
import { combsOf, rangeOf } from './comb-hypotheses.ts'
import { leadOf, leastOf } from './comb-lead.ts'
import {
  ambiguous,
  besideSwitching,
  commutationOf,
  HIGHEST_SHARE,
  isMovedSwitching,
  levelTooShort,
  noRipple,
  sampledTooSlowly,
  standsStill,
} from './comb-refusals.ts'
import { type CombCandidate, findCombs } from './find-comb.ts'
import type { LevelSpectrum } from './level-fit.ts'
import type { RippleFault } from './ripple-fault.ts'
import type { RippleSettings } from './ripple-settings.ts'
import { type SampleSpan, type SpeedLevel, speedLevels } from './speed-levels.ts'
import { showsShaft } from './shaft-lines.ts'
import { evidenceAt } from './steady-evidence.ts'
import { hintsOf, weighed } from './weigh-combs.ts'

/** How fast the shaft turns for each volt of back-EMF, and by which lines that was told. */
export interface IdentifiedComb {
  readonly ripplesPerTurn: number
  readonly stride: number
  /** Turns a second at one volt, 1/(2πk); without a voltage, turns a second at the usual speed. */
  readonly turnsPerVoltSec: number
  readonly emfReachVolt: number
  /** Turns a second at each level of speed that bore the comb out. */
  readonly levels: readonly CombLevel[]
  /** Orders that stand out, the commutation's first. */
  readonly orders: readonly number[]
  /** Whether the commutation's own line is not seen at the first level, since the switching or noise covers it. */
  readonly isHidden: boolean
  /** Where a higher line of the switching stands on or beside the commutation: only a fit that allows for both tells the speed. */
  readonly beside: RippleFault | null
  /** ln likelihood over that of the next best explanation. */
  readonly margin: number
  readonly candidates: readonly CombCandidate[]
}

export interface CombLevel {
  readonly emfVolt: number
  readonly turnsPerSec: number
  readonly terminals: 'closed' | 'open'
  readonly spans: readonly SampleSpan[]
}

/** A level on its own counts from this likelihood on, over foreign lines alone. */
const LEAST_LEVEL = 4
const MOST_ORDERS = 6

export function identifyComb(
  course: EmfCourse,
  settings: RippleSettings,
): Result<IdentifiedComb, RippleFault> {
  const levels = speedLevels(course)
  if (levels.length === 0) {
    return failure({
      code: 'not-turning',
      text: 'no stretch in which the shaft turns: the back-EMF v − R i is nowhere large enough',
    })
  }
  const spectra = levels.map(level => spectrumOf(level, course, settings))
  const range = rangeOf(settings)
  const evidence = evidenceAt(levels[0]!, course)
  const hints = hintsOf(evidence, levels[0]!, course, settings)
  const combs = findCombs(spectra, combsOf(settings), range, hints)
  const found = weighed(combs, settings, evidence, course)
  const tooFast = sampledTooSlowly(levels, course, settings)
  if (tooFast !== null) return failure(tooFast)
  const [best] = found
  const least = leastOf(settings, course.emfFrom)
  if (best === undefined || best.total <= least.total) {
    return failure(noRipple(levels, course, settings))
  }
  const { rival, margin } = leadOf(best, found, least)
  if (rival !== null) return failure(ambiguous(best, rival, levels[0]!, course))
  // Where nothing narrows the search, a comb of which only higher lines are seen is more likely another one's.
  if (!showsItself(best) && margin < least.marginUnseen) {
    return failure(noRipple(levels, course, settings))
  }
  if (!isBorneOut(best) && margin < least.marginUnborne) {
    if (isMovedSwitching(best, levels[0]!, spectra[0]!)) {
      return failure(noRipple(levels, course, settings))
    }
    const unborne = best.levels.findIndex(({ fit }) => fit === null)
    if (unborne >= 0) return failure(levelTooShort(best, levels[0]!, levels[unborne]!))
  }
  const isAlone = course.emfFrom === 'lines'
  if (isAlone && !isSwitchingKnown(course, settings, commutationOf(best)) && !isMoving(course)) {
    if (!showsShaft(best, levels[0]!, spectra[0]!, course)) {
      return failure(standsStill(commutationOf(best), settings.switchingHz !== null))
    }
  }
  return success({
    ripplesPerTurn: best.comb.ripplesPerTurn,
    stride: best.comb.stride,
    turnsPerVoltSec: best.turnsPerVoltSec,
    emfReachVolt: Math.max(...levels.map(level => level.emfVolt)),
    levels: levels.flatMap(({ emfVolt, terminals, spans }, l) => {
      const { turnRate, score } = best.levels[l]!
      // The first one is what the rest was compared with.
      const counts = l === 0 || score > LEAST_LEVEL
      return counts ? [{ emfVolt, turnsPerSec: turnRate, terminals, spans }] : []
    }),
    orders: ordersOf(best, course),
    isHidden: isHidden(best),
    beside: besideSwitching(best, spectra[0]!),
    margin,
    candidates: found,
  })
}

/** A rate that was stated is looked for within this share of it. */
const STATED_SHARE = 0.02

/**
 * Whether the switching is known not to be what is taken for the commutation: the line that was found for it near where a stated rate
 * folds to may be the shaft's, and the shaft's the switching's.
 */
function isSwitchingKnown(
  { pieces, rateHz }: EmfCourse,
  { switchingHz }: RippleSettings,
  commutationHz: number,
): boolean {
  const switching = pieces.find(piece => piece.switching !== null)?.switching ?? null
  if (switching === null) return switchingHz !== null
  const nominalHz = switchingHz ?? switching.frequency
  const foldedHz = rateHz * alias(nominalHz / rateHz)
  const reachHz = STATED_SHARE * nominalHz
  return foldedHz > reachHz && Math.abs(foldedHz - commutationHz) > reachHz
}

/** What turns changes its rate by this in the course of a start, or of a change of speed. */
const MOVING_SHARE = 0.05

function isMoving({ pieces }: EmfCourse): boolean {
  let [lowest, highest] = [Number.POSITIVE_INFINITY, 0]
  for (const { emf } of pieces) {
    for (const speed of emf!) {
      if (speed > 0) lowest = Math.min(lowest, speed)
      highest = Math.max(highest, speed)
    }
  }
  return highest > (1 + MOVING_SHARE) * lowest
}

function spectrumOf(
  { segments, length, emfVolt, switching, carriers, terminals }: SpeedLevel,
  { rateHz, apertureSec, resistanceOhm }: EmfCourse,
  { backEmfConstant }: RippleSettings,
): LevelSpectrum {
  const spectrum: OctaveSpectrum = octaveSpectrum(segments, rateHz)
  const scale = resistanceOhm === null ? null : 2 * Math.log(emfVolt / resistanceOhm)
  return {
    spectrum,
    emfVolt,
    durationSec: length / rateHz,
    switching,
    scale,
    lags: terminals === 'closed',
    sampling: { rateHz, apertureSec },
    // Where all rates are tried, products of a wrong one meet lines beside the switching by chance.
    carriers: backEmfConstant === null ? [] : carriers,
  }
}

/**
 * Orders above half the sample rate show where they fold to, which is no place to follow them at; and the higher an
 * order of unevenness, the likelier it is something else that stands there.
 */
function ordersOf(candidate: CombCandidate, { rateHz }: EmfCourse): number[] {
  const n = candidate.comb.ripplesPerTurn
  const seen = (fitOf(candidate)?.lines ?? [])
    .filter(({ kind, peak }) => kind !== 'switching' && peak !== null)
    .filter(({ frequency }) => frequency < HIGHEST_SHARE * rateHz)
    .filter(({ order }) => (order % n === 0 ? order <= MOST_FOLLOWED * n : order < n))
    .toSorted((a, b) => b.peak!.evidence - a.peak!.evidence)
  const orders = seen.map(line => line.order).filter(order => order !== n)
  return [n, ...orders.slice(0, MOST_ORDERS - 1)]
}

/** Whether a second level shows the same comb. */
const isBorneOut = ({ levels }: CombCandidate) =>
  levels.filter(({ fit, score }) => fit !== null && score > LEAST_LEVEL).length > 1

/** Multiples of the commutation that are followed. */
const MOST_FOLLOWED = 3

/** Whether the commutation's first or second line is seen at some level. */
const showsItself = ({ comb, levels }: CombCandidate) =>
  levels.some(({ fit }) =>
    fit?.lines.some(
      ({ kind, order, peak }) =>
        kind === 'commutation' && order <= 2 * comb.ripplesPerTurn && peak !== null,
    ),
  )

/** Whether the switching covers the commutation's own line at the first level. */
const isHidden = (candidate: CombCandidate) => fitOf(candidate)?.lines[0]?.peak === null

/** The first level that is long enough to show the commutation. */
const fitOf = ({ levels }: CombCandidate) => levels.find(({ fit }) => fit !== null)?.fit ?? null
