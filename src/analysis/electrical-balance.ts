import { isCoarse } from '../signals/coarse-time.ts'
import { findPhases } from '../signals/phases.ts'
import type { RunSignals } from '../signals/run-signals.ts'
import type { SteadyLevel } from '../signals/steady-levels.ts'
import { errorsInVariables } from '../statistics/errors-in-variables.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'
import { brushVolt } from './brush-model.ts'

/** One mean voltage equation v = R i + V_b s + k_e ω + L di/dt, with the noise of each reading. */
export interface BalanceRow {
  readonly voltage: number
  readonly voltageSigma: number
  readonly current: number
  readonly currentSigma: number
  /** The course of the brush drop, ±1 where it is full. */
  readonly brush: number
  readonly speed: number
  readonly speedSigma: number
  readonly rise: number
  readonly riseSigma: number
  /** Interval of the samples; 0 for a level, which carries none. */
  readonly spacingSec: number
  /** Samples from the start of the phase to that of the block. */
  readonly samplesIn: number
}

/** What the voltage equation tells without a locked rotor. */
export interface ElectricalBalance {
  readonly resistance: Estimate
  readonly inductance: Estimate | null
  /** The samples were too far apart to see the current rise. */
  readonly sampledTooSlowly: boolean
  readonly backEmfConstant: Estimate | null
  /** Null where it does not stand out of its uncertainty. */
  readonly brushDrop: Estimate | null
  /** Of R, V_b and k_e, nil where a term was left out. */
  readonly covariance: readonly (readonly number[])[]
}

/** Blocks grow after each edge, so that the transient has its share of them. */
const GROWTH = 1.15
/**
 * What is known of any brush drop beforehand, as shares of the highest voltage: without it a single set voltage
 * would be all "drop" to the equation. Carbon brushes drop 0.5 to 2 V, precious metal 0.1; common practice.
 */
const USUAL_DROP = { share: 0.02, uncertainty: 0.03 }

/**
 * Mean voltage equations over blocks of the driven phases, which hold whatever happens within a block; of a table,
 * its rows. Blocks that miss a reading are left out.
 */
export function balanceRows(
  signals: RunSignals,
  levels: readonly SteadyLevel[],
  kneeAmp: number,
): BalanceRow[] {
  const { timeSec, voltage, current, speed } = signals
  if (!voltage || !current) return []
  // Where such a run changes level cannot be told well enough for a balance between its levels.
  if (isCoarse(timeSec)) return []
  if (!timeSec) return levels.flatMap(level => levelBalance(level, kneeAmp) ?? [])
  const blocks = findPhases(signals).phases.flatMap(phase =>
    phase.kind === 'drive' || phase.kind === 'brake'
      ? growingBlocks(phase.start, phase.end).map(([from, to]) => ({ from, to, phase }))
      : [],
  )
  const rows = blocks.map(({ from, to, phase }): BalanceRow => {
    const over = (of: (i: number) => number) => meanOver(of, from, to)
    const root = Math.sqrt(to - from)
    const span = timeSec[to - 1]! - timeSec[from]!
    return {
      voltage: over(i => voltage.values[i]!),
      voltageSigma: voltage.noise / root,
      current: over(i => current.values[i]!),
      currentSigma: current.noise / root,
      brush: over(i => brushVolt({ dropVolt: 1, kneeAmp }, current.values[i]!)),
      speed: speed ? over(i => speed.values[i]!) : 0,
      speedSigma: (speed?.noise ?? 0) / root,
      rise: (current.values[to - 1]! - current.values[from]!) / span,
      riseSigma: (Math.SQRT2 * current.noise) / span,
      spacingSec: span / (to - 1 - from),
      samplesIn: from - phase.start,
    }
  })
  // Without current the brushes' sign is that of the noise.
  const flows = (row: BalanceRow) =>
    Math.abs(row.current) > Math.max(5 * row.currentSigma, 0.003 * current.reach)
  return rows.filter(row => flows(row) && Object.values(row).every(Number.isFinite))
}

/** A steady level as a row; its shaft counts as still where it has no speed. */
export function levelBalance(level: SteadyLevel, kneeAmp: number): BalanceRow | null {
  const { voltage, current, speed } = level
  if (!voltage || !current) return null
  return {
    voltage: voltage.value,
    voltageSigma: voltage.standardUncertainty,
    current: current.value,
    currentSigma: current.standardUncertainty,
    brush: brushVolt({ dropVolt: 1, kneeAmp }, current.value),
    speed: speed?.value ?? 0,
    speedSigma: speed?.standardUncertainty ?? 0,
    rise: 0,
    riseSigma: 0,
    spacingSec: 0,
    samplesIn: 0,
  }
}

/** Share of L/R that the interval of the samples may take for the current rise to be seen. */
const RESOLVED = 0.5
/** Samples after an edge by which the rise is over when each is longer than that share of L/R. */
const RISEN = 8

/**
 * R, V_b, k_e and L from such rows; a constant that open terminals gave counts as known. For runs without a full
 * locked-rotor test: a run-up has the large current at low speed that tells R from k_e. Null where the columns
 * cannot be told apart.
 */
export function fitBalance(
  rows: readonly BalanceRow[],
  constant: Estimate | null,
): ElectricalBalance | null {
  const fit = fitRows(rows, constant)
  if (!fit?.inductance) return fit
  const longest = (RESOLVED * fit.inductance.value) / fit.resistance.value
  const isSlow = (row: BalanceRow) => row.spacingSec > longest
  if (!rows.some(isSlow)) return fit
  // Between such samples the current did what their straight lines do not tell: the rise is left out.
  const steady = rows.filter(row => !isSlow(row) || row.samplesIn >= RISEN)
  const seen = rows.some(row => row.spacingSec > 0 && !isSlow(row))
  const again = fitRows(steady, constant)
  return again && { ...again, ...(seen ? {} : { inductance: null, sampledTooSlowly: true }) }
}

function fitRows(rows: readonly BalanceRow[], constant: Estimate | null): ElectricalBalance | null {
  const turning = rows.some(row => Math.abs(row.speed) > 6 * row.speedSigma)
  const rising = rows.some(row => row.rise !== 0)
  const highest = Math.max(0, ...rows.map(row => Math.abs(row.voltage)))
  const column = (
    of: (row: BalanceRow) => number,
    sigma: ((row: BalanceRow) => number) | null,
  ) => ({
    values: rows.map(of),
    sigmas: sigma && rows.map(sigma),
  })
  const terms = [
    {
      column: column(
        row => row.current,
        row => row.currentSigma,
      ),
      known: null,
    },
    {
      column: column(row => row.brush, null),
      known: { value: USUAL_DROP.share * highest, sigma: USUAL_DROP.uncertainty * highest },
    },
    ...(turning
      ? [
          {
            column: column(
              row => row.speed,
              row => row.speedSigma,
            ),
            known: constant && { value: constant.value, sigma: constant.standardUncertainty },
          },
        ]
      : []),
    ...(rising
      ? [
          {
            column: column(
              row => row.rise,
              row => row.riseSigma,
            ),
            known: null,
          },
        ]
      : []),
  ]
  if (rows.length < terms.length + 1) return null
  const fit = errorsInVariables(
    terms.map(term => term.column),
    rows.map(row => row.voltage),
    rows.map(row => row.voltageSigma),
    {
      excess: true,
      prior: {
        mean: terms.map(term => term.known?.value ?? 0),
        information: terms.map((term, j) =>
          terms.map((_, k) => (j === k && term.known ? informationOf(term.known) : 0)),
        ),
      },
    },
  )
  if (!fit.ok || !(fit.value.coefficients[0]! > 0)) return null
  const { coefficients, covariance, degreesOfFreedom } = fit.value
  const estimate = (j: number): Estimate | null =>
    j < 0
      ? null
      : {
          value: coefficients[j]!,
          standardUncertainty: Math.sqrt(covariance[j]![j]!),
          degreesOfFreedom,
        }
  const drop = estimate(1)!
  const inductance = rising ? estimate(terms.length - 1)! : null
  const places = [0, 1, turning ? 2 : -1]
  return {
    resistance: estimate(0)!,
    sampledTooSlowly: false,
    brushDrop: drop.value > 2 * drop.standardUncertainty ? drop : null,
    backEmfConstant: estimate(turning ? 2 : -1),
    inductance:
      inductance && inductance.value > 3 * inductance.standardUncertainty ? inductance : null,
    covariance: places.map(a => places.map(b => covariance[a]?.[b] ?? 0)),
  }
}

function informationOf({ value, sigma }: { value: number; sigma: number }): number {
  return 1 / Math.max(sigma, 1e-9 * Math.abs(value)) ** 2
}

function growingBlocks(start: number, end: number): [number, number][] {
  const blocks: [number, number][] = []
  let from = start + 1
  let length = 4
  while (from + length <= end) {
    blocks.push([from, from + Math.floor(length)])
    from += Math.floor(length)
    length *= GROWTH
  }
  return blocks
}

/** Trapezoid mean, which belongs to the same span as the difference of the ends. */
function meanOver(of: (i: number) => number, from: number, to: number): number {
  let sum = (of(from) + of(to - 1)) / 2
  for (let i = from + 1; i < to - 1; i++) sum += of(i)
  return sum / (to - 1 - from)
}
