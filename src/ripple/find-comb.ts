import type { OctaveSpectrum } from '../numerics/spectrum/octave-spectrum.ts'
import { type CombFit, fitComb, type LevelScale, scoreComb } from './comb.ts'
import type { CombSettings } from './comb-settings.ts'
import { listPeaks, type PeakList } from './peaks.ts'
import type { Switching } from './pwm-waveform.ts'

/** A rate of turning with a number of ripples a turn that explains the lines at all levels of speed. */
export interface CombCandidate {
  /** Turns a second at a back-EMF of one volt, by the first level. */
  readonly turnsPerVoltSec: number
  readonly comb: CombSettings
  /** ln likelihood of all levels together … */
  readonly total: number
  /** … of which this is that of where the lines of the other levels stand. */
  readonly chance: number
  readonly levels: readonly LevelFit[]
}

export interface LevelFit {
  /** Turns a second. */
  readonly turnRate: number
  /** Null where the level is too short to show the commutation. */
  readonly fit: CombFit | null
  /** ln likelihood of this level alone. */
  readonly score: number
}

/** The lines at one level of speed. */
export interface LevelSpectrum extends LevelScale {
  readonly spectrum: OctaveSpectrum
  readonly emfVolt: number
  readonly switching: Switching | null
}

/** Of turns a second at one volt. */
export interface TurnRateRange {
  readonly lowest: number
  readonly highest: number
}

const MOST_PEAKS = 40
const SNAP_BINS = 4
const SNAP_ORDERS = 5
const SNAP_EVIDENCE = 1000
/** Rates nearer than this are the same candidate. */
const SAME_RATE = 0.004
/**
 * What the brushes drop, or a resistance known roughly, may shift the back-EMF by so much of the largest, one standard
 * deviation; and a level is no steadier than this.
 */
const DROP_SHARE = 0.02
const LEVEL_SPREAD = 0.012
/** Read at single moments of the switching, the voltage's mean is less sure. */
const INSTANT_SPREAD = 0.02
const LEVEL_REACH = 3
/** Candidates of the first level, and of each other one, that are tried on the rest. */
const MOST_TRIED = 40
const MOST_TRIED_ELSEWHERE = 15
/** What is so much less likely at its own level is not tried on the rest. */
const HOPELESS = 30
/** Of the best candidates, so many are looked at more closely. */
const MOST_REFINED = 10
/** Of the tallest lines, so many are tried as folded ones. */
const FOLDED_TRIED = 6

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
      .slice(0, l === 0 ? MOST_TRIED : MOST_TRIED_ELSEWHERE)
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
      first.emfVolt,
    )
  }
  const sorted = tried.map(explained).sort((a, b) => b.total - a.total)
  return withoutTwins(
    withoutTwins(sorted)
      .map((candidate, k) => {
        if (k >= MOST_REFINED) return candidate
        const { comb, levels, chance } = candidate
        const finer = levels.map((fit, l) => refined(peaked[l]!, comb, fit))
        return candidateOf(comb, finer, chance, first.emfVolt)
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
  levels: readonly LevelFit[],
  chance: number,
  emfVolt: number,
): CombCandidate {
  const fits = levels.flatMap(({ fit }) => (fit === null ? [] : [fit]))
  const total = chance + scoreComb(fits, comb)
  return { turnsPerVoltSec: levels[0]!.turnRate / emfVolt, comb, total, chance, levels }
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

interface PeakedLevel extends LevelSpectrum {
  readonly list: PeakList
}

function fitsIn(level: PeakedLevel, comb: CombSettings, range: TurnRateRange): LevelFit[] {
  const { list, emfVolt } = level
  const leading = list.peaks.toSorted((a, b) => b.evidence - a.evidence).slice(0, MOST_PEAKS)
  const tried = new Set<number>()
  const tryRate = (rate: number) => {
    if (rate >= range.lowest * emfVolt && rate <= range.highest * emfVolt) tried.add(rate)
  }
  for (const [p, { frequency }] of leading.entries()) {
    for (const order of leadingOrders(comb)) tryRate(snapped(list, frequency / order, comb))
    if (p >= FOLDED_TRIED) continue
    for (const multiple of [2, 3]) {
      const rate = (level.sampling.rateHz - frequency) / (multiple * comb.ripplesPerTurn)
      tryRate(snapped(list, rate, comb))
    }
  }
  return [...tried].map(turnRate => fitAt(level, comb, turnRate)).sort((a, b) => b.score - a.score)
}

function fitAt(level: PeakedLevel, comb: CombSettings, turnRate: number): LevelFit {
  const fit = fitComb(level.spectrum, level.list, turnRate, comb, level)
  return {
    turnRate,
    fit,
    score: fit === null ? Number.NEGATIVE_INFINITY : scoreComb([fit], comb, 'coarse'),
  }
}

/** The rate that suits best the lines close to the first orders; each line counts by how exactly it tells the rate. */
function snapped(
  list: PeakList,
  rate: number,
  { ripplesPerTurn: n, stride }: CombSettings,
): number {
  let weights = 0
  let sum = 0
  for (const unit of [n, stride]) {
    for (let order = unit; order <= SNAP_ORDERS * unit; order += unit) {
      const peak = list.near(order * rate, SNAP_BINS)
      if (peak === null || Math.abs(peak.frequency / (order * rate) - 1) > SAME_RATE) continue
      const weight = Math.min(peak.evidence, SNAP_EVIDENCE) * (peak.frequency / peak.binWidth) ** 2
      weights += weight
      sum += (weight * peak.frequency) / order
    }
  }
  return weights > 0 ? sum / weights : rate
}

/**
 * The fit near a rate that another level told, and ln of the chance that it is there and not elsewhere within what is
 * uncertain of it: lines are found the easier the wider one looks.
 */
function bestNear(
  level: PeakedLevel,
  comb: CombSettings,
  turnsPerVoltSec: number,
  spread: number,
): { best: LevelFit; chance: number } {
  const nominal = fitAt(level, comb, turnsPerVoltSec * level.emfVolt)
  if (nominal.fit === null) return { best: nominal, chance: 0 }
  const range = {
    lowest: turnsPerVoltSec * Math.exp(-LEVEL_REACH * spread),
    highest: turnsPerVoltSec * Math.exp(LEVEL_REACH * spread),
  }
  const { reachBins, frequency } = nominal.fit.lines[0]!
  const binWidth = level.list.binWidthAt(frequency)
  const places = Math.max(1, (2.5066 * spread * frequency) / (2 * reachBins * binWidth))
  const priorOf = (fit: LevelFit) =>
    -0.5 * (Math.log(fit.turnRate / nominal.turnRate) / spread) ** 2 - Math.log(places)
  let best = nominal
  let chance = 0
  for (const fit of fitsIn(level, comb, range)) {
    if (fit.score + priorOf(fit) > best.score + chance) {
      best = fit
      chance = priorOf(fit)
    }
  }
  return { best, chance }
}

/** Places to either side, in parts of a bin at the commutation, that are tried once a rate is about right. */
const REFINED_STEPS = 4
const REFINED_BIN = 0.35

function refined(level: PeakedLevel, comb: CombSettings, fit: LevelFit): LevelFit {
  const commutationHz = fit.turnRate * comb.ripplesPerTurn
  const step = (REFINED_BIN * level.list.binWidthAt(commutationHz)) / commutationHz
  let best = fit
  for (let k = -REFINED_STEPS; k <= REFINED_STEPS; k++) {
    const tried = fitAt(level, comb, fit.turnRate * (1 + k * step))
    if (tried.score > best.score) best = tried
  }
  return best
}

function leadingOrders({ ripplesPerTurn: n, stride }: CombSettings): number[] {
  const orders = [n, 2 * n, 3 * n, stride, 2 * stride]
  return n % 2 === 0 ? [...orders, n / 2] : orders
}

function withoutRepeats(sorted: readonly LevelFit[]): LevelFit[] {
  const kept: LevelFit[] = []
  for (const fit of sorted) {
    const repeats = kept.some(other => Math.abs(other.turnRate / fit.turnRate - 1) < SAME_RATE)
    if (!repeats) kept.push(fit)
  }
  return kept
}
