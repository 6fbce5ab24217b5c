import type { OctaveSpectrum } from '../numerics/spectrum/octave-spectrum.ts'
import { type CombFit, fitComb, type LevelScale, scoreComb } from './comb.ts'
import type { CombSettings } from './comb-settings.ts'
import type { PeakList } from './peaks.ts'
import type { Switching } from './pwm-waveform.ts'

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
  /** Of what was recorded at this speed. */
  readonly durationSec: number
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
export const SAME_RATE = 0.004
const LEVEL_REACH = 3
/** Of the tallest lines, so many are tried as folded ones. */
const FOLDED_TRIED = 6

export interface PeakedLevel extends LevelSpectrum {
  readonly list: PeakList
}

export function fitsIn(level: PeakedLevel, comb: CombSettings, range: TurnRateRange): LevelFit[] {
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

export function fitAt(level: PeakedLevel, comb: CombSettings, turnRate: number): LevelFit {
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
export function bestNear(
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

export function refined(level: PeakedLevel, comb: CombSettings, fit: LevelFit): LevelFit {
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

export function withoutRepeats(sorted: readonly LevelFit[]): LevelFit[] {
  const kept: LevelFit[] = []
  for (const fit of sorted) {
    const repeats = kept.some(other => Math.abs(other.turnRate / fit.turnRate - 1) < SAME_RATE)
    if (!repeats) kept.push(fit)
  }
  return kept
}
