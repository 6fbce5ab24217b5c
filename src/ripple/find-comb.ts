import { scoreComb } from './comb.ts'
import { logPriorOf } from './comb-prior.ts'
import type { CombSettings } from './comb-settings.ts'
import {
  bestNear,
  fitAt,
  fitsIn,
  type LevelFit,
  type LevelSpectrum,
  refined,
  SAME_RATE,
  type TurnRateRange,
  withoutRepeats,
} from './level-fit.ts'
import { listPeaks } from './peaks.ts'

/** A rate of turning with a number of ripples a turn that explains the lines at all levels of speed. */
export interface CombCandidate {
  /** Turns a second at a back-EMF of one volt, by the first level. */
  readonly turnsPerVoltSec: number
  readonly comb: CombSettings
  /** ln likelihood of all levels together, with what motors and records are like … */
  readonly total: number
  /** … of which this is that of where the lines of the other levels stand, … */
  readonly chance: number
  /** … and this what stands out beside the switching. */
  readonly evidence: number
  readonly levels: readonly LevelFit[]
}

/**
 * What the brushes drop, or a resistance known roughly, may shift the back-EMF by so much of the largest, one standard
 * deviation; and a level is no steadier than this.
 */
const DROP_SHARE = 0.02
const LEVEL_SPREAD = 0.012
/** Read at single moments of the switching, the voltage's mean is less sure. */
const INSTANT_SPREAD = 0.02
/** Less is spent on a window of many than on the levels of a record. */
export interface SearchEffort {
  /** Candidates of the first level that are tried on the rest. */
  readonly mostTried: number
  /** Of the best candidates, so many are looked at more closely. */
  readonly mostRefined: number
}
const FULL_EFFORT: SearchEffort = { mostTried: 40, mostRefined: 10 }
/** Of each other level. */
const MOST_TRIED_ELSEWHERE = 15
/** What is so much less likely at its own level is not tried on the rest. */
const HOPELESS = 30

/**
 * Candidates in falling order of their score. At each level every tall line is tried as every order that a tall line
 * may have: the commutation, its multiples and halves, and the first orders of unevenness. The other levels must bear a
 * candidate out at nearly the same place.
 */
export function findCombs(
  levels: readonly LevelSpectrum[],
  combs: readonly CombSettings[],
  range: TurnRateRange,
  hints: readonly Hint[] = [],
  effort: SearchEffort = FULL_EFFORT,
): CombCandidate[] {
  const peaked = levels.map(level => ({
    ...level,
    list: listPeaks(level.spectrum, level.switching),
  }))
  const [first] = peaked
  if (first === undefined) return []
  const reach = Math.max(...levels.map(level => level.emfVolt))
  const tried = peaked.flatMap((level, l): Lead[] => {
    const found = combs.flatMap(comb =>
      withoutRepeats(fitsIn(level, comb, range))
        .filter(({ fit }) => fit !== null)
        .map(fit => ({ comb, fit, l })),
    )
    found.sort((a, b) => b.fit.score - a.fit.score)
    const least = (found[0]?.fit.score ?? 0) - HOPELESS
    return found
      .slice(0, l === 0 ? effort.mostTried : MOST_TRIED_ELSEWHERE)
      .filter(({ fit }) => fit.score > least)
  })
  for (const { comb, turnRate } of hints) {
    const fit = fitAt(peaked[0]!, comb, turnRate)
    if (fit.fit !== null) tried.push({ comb, fit, l: 0 })
  }
  const explained = ({ comb, fit, l }: Lead): CombCandidate => {
    const leading = peaked[l]!
    const borne = peaked.map((other, k) => {
      if (k === l) return { best: fit, chance: 0 }
      const drop = DROP_SHARE * reach * (1 / other.emfVolt - 1 / leading.emfVolt)
      const steady =
        leading.switching !== null && leading.sampling.apertureSec === 0
          ? INSTANT_SPREAD
          : LEVEL_SPREAD
      return bestNear(other, comb, fit.turnRate / leading.emfVolt, Math.hypot(steady, drop))
    })
    const chance = borne.reduce((sum, found) => sum + found.chance, 0)
    return candidateOf(
      comb,
      borne.map(({ best }) => best),
      chance,
      levels,
    )
  }
  const sorted = tried.map(explained).sort((a, b) => b.total - a.total)
  return withoutTwins(
    withoutTwins(sorted)
      .map((candidate, k) => {
        if (k >= effort.mostRefined) return candidate
        const { comb, chance } = candidate
        const finer = candidate.levels.map((fit, l) => refined(peaked[l]!, comb, fit))
        return candidateOf(comb, finer, chance, levels)
      })
      .sort((a, b) => b.total - a.total),
  )
}

/** Turns a second at the first level that something else than its tall lines speaks for. */
export interface Hint {
  readonly comb: CombSettings
  readonly turnRate: number
}

/** A rate that one level leads to. */
interface Lead {
  readonly comb: CombSettings
  readonly fit: LevelFit
  readonly l: number
}

function candidateOf(
  comb: CombSettings,
  fits: readonly LevelFit[],
  chance: number,
  levels: readonly LevelSpectrum[],
): CombCandidate {
  const shown = fits.flatMap(({ fit }) => (fit === null ? [] : [fit]))
  const total = chance + scoreComb(shown, comb) + logPriorOf(fits, levels, comb)
  const turnsPerVoltSec = fits[0]!.turnRate / levels[0]!.emfVolt
  return { turnsPerVoltSec, comb, total, chance, evidence: 0, levels: fits }
}

/** The same explanation may be led to from several levels. */
function withoutTwins(sorted: readonly CombCandidate[]): CombCandidate[] {
  const kept: CombCandidate[] = []
  for (const candidate of sorted) {
    const isTwin = kept.some(
      ({ comb, turnsPerVoltSec }) =>
        comb === candidate.comb &&
        Math.abs(turnsPerVoltSec / candidate.turnsPerVoltSec - 1) < SAME_RATE,
    )
    if (!isTwin) kept.push(candidate)
  }
  return kept
}
