import type { OctaveSpectrum } from '../numerics/spectrum/octave-spectrum.ts'
import { type CombScore, type CombSettings, scoreComb } from './comb.ts'
import { listPeaks, type PeakList, type Switching } from './peaks.ts'

/** A rate of turning with a number of ripples a turn that explains the lines at all levels of speed. */
export interface CombCandidate {
  /** Turns a second at a back-EMF of one volt, by the first level. */
  readonly turnsPerVoltSec: number
  readonly comb: CombSettings
  /** Sum over the levels. */
  readonly total: number
  readonly levels: readonly LevelFit[]
}

export interface LevelFit {
  /** Turns a second. */
  readonly turnRate: number
  readonly score: CombScore
}

/** The lines at one level of speed. */
export interface LevelSpectrum {
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
/** By so much the back-EMF of one level may be off against that of another. */
const LEVEL_TOLERANCE = 0.04
/** Candidates of the first level that are tried on the others. */
const MOST_TRIED = 60

/**
 * Candidates in falling order of their score. At the first level every tall line is tried as every order that a tall line
 * may have: the commutation, its multiples and halves, and the first orders of unevenness. The other levels must bear a
 * candidate out at nearly the same place.
 */
export function findCombs(
  levels: readonly LevelSpectrum[],
  combs: readonly CombSettings[],
  range: TurnRateRange,
): CombCandidate[] {
  const [first, ...others] = levels.map(level => ({
    ...level,
    list: listPeaks(level.spectrum, level.switching),
  }))
  if (first === undefined) return []
  const found = combs.flatMap(comb =>
    withoutRepeats(fitsIn(first, comb, range))
      .filter(fit => Number.isFinite(fit.score.total))
      .map(fit => ({ comb, fit })),
  )
  found.sort((a, b) => b.fit.score.total - a.fit.score.total)
  return found
    .slice(0, MOST_TRIED)
    .map(({ comb, fit }): CombCandidate => {
      const levels = [
        fit,
        ...others.map(other => bestNear(other, comb, fit.turnRate / first.emfVolt)),
      ]
      // A level that is too short to show the commutation tells nothing.
      const total = levels.reduce(
        (sum, { score }) => sum + (Number.isFinite(score.total) ? score.total : 0),
        0,
      )
      return { turnsPerVoltSec: fit.turnRate / first.emfVolt, comb, total, levels }
    })
    .sort((a, b) => b.total - a.total)
}

interface PeakedLevel extends LevelSpectrum {
  readonly list: PeakList
}

function fitsIn(level: PeakedLevel, comb: CombSettings, range: TurnRateRange): LevelFit[] {
  const { spectrum, list, switching, emfVolt } = level
  const leading = list.peaks.toSorted((a, b) => b.evidence - a.evidence).slice(0, MOST_PEAKS)
  const tried = new Set<number>()
  for (const { frequency } of leading) {
    for (const order of leadingOrders(comb)) {
      const rate = snapped(list, frequency / order, comb)
      if (rate >= range.lowest * emfVolt && rate <= range.highest * emfVolt) tried.add(rate)
    }
  }
  return [...tried]
    .map(turnRate => ({ turnRate, score: scoreComb(spectrum, list, turnRate, comb, switching) }))
    .sort((a, b) => b.score.total - a.score.total)
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

function bestNear(level: PeakedLevel, comb: CombSettings, turnsPerVoltSec: number): LevelFit {
  const { spectrum, list, switching, emfVolt } = level
  const turnRate = turnsPerVoltSec * emfVolt
  const range = {
    lowest: turnsPerVoltSec / (1 + LEVEL_TOLERANCE),
    highest: turnsPerVoltSec * (1 + LEVEL_TOLERANCE),
  }
  const nominal = { turnRate, score: scoreComb(spectrum, list, turnRate, comb, switching) }
  const best = fitsIn(level, comb, range)[0]
  return best && best.score.total > nominal.score.total ? best : nominal
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
