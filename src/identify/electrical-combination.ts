import {
  type BalanceRow,
  type ElectricalBalance,
  fitBalance,
  levelBalance,
} from '../analysis/electrical-balance.ts'
import type { Moving } from '../analysis/moving.ts'
import type { StallPoint } from '../analysis/stall-points.ts'
import { combineEstimates, type Estimate } from '../statistics/weighted-mean.ts'
import { resistanceAt, type TestTemperature } from './test-temperature.ts'

/** The back-EMF constant that one run gives, and how. */
export interface ConstantOfRun {
  readonly run: number
  readonly estimate: Estimate
  readonly how: 'open terminals' | 'steady levels' | 'balance'
  /** With R and V_b, where those went into it. */
  readonly withResistance: number
  readonly withBrushDrop: number
}

export interface ElectricalRun {
  readonly run: number
  readonly moving: Moving
  readonly temperature: TestTemperature
}

export interface ConstantCombination {
  readonly backEmfConstant: Estimate
  readonly withResistance: number
  readonly withBrushDrop: number
}

/** Every way in which the turning runs give the back-EMF constant; negative ones (wrong polarity) left out. */
export function constantsOf(runs: readonly ElectricalRun[]): ConstantOfRun[] {
  return runs
    .flatMap(({ run, moving }): ConstantOfRun[] => {
      const found: ConstantOfRun[] = []
      const none = { withResistance: 0, withBrushDrop: 0 }
      if (moving.openTerminals) {
        found.push({ run, estimate: moving.openTerminals.constant, how: 'open terminals', ...none })
      }
      if (moving.backEmf) {
        found.push({
          run,
          estimate: moving.backEmf.backEmfConstant,
          how: 'steady levels',
          withResistance: moving.backEmf.covariance[0]![1]!,
          withBrushDrop: moving.backEmf.covariance[0]![2]!,
        })
      } else if (moving.balance?.backEmfConstant) {
        found.push({ run, estimate: moving.balance.backEmfConstant, how: 'balance', ...none })
      }
      return found
    })
    .filter(({ estimate }) => estimate.value > 0)
}

/** Weighted mean of the constants of all runs, with what it shares with R and V_b. */
export function combineConstants(constants: readonly ConstantOfRun[]): ConstantCombination | null {
  if (constants.length === 0) return null
  const mean = combineEstimates(constants.map(c => c.estimate))
  const weights = constants.map(
    c => 1 / (c.estimate.standardUncertainty ** 2 + mean.between ** 2 + (1e-12 * mean.value) ** 2),
  )
  const total = weights.reduce((sum, w) => sum + w, 0)
  const share = (pick: (c: ConstantOfRun) => number) =>
    constants.reduce((sum, c, i) => sum + (weights[i]! / total) * pick(c), 0)
  return {
    backEmfConstant: mean,
    withResistance: share(c => c.withResistance),
    withBrushDrop: share(c => c.withBrushDrop),
  }
}

/**
 * R, V_b, k_e and L at the reference temperature for want of a full locked-rotor test: the voltage balances of all
 * turning runs pooled with whatever levels a locked rotor had, resistances brought to the reference temperature by
 * way of the currents. A constant from open terminals counts as known.
 */
export function pooledBalance(
  runs: readonly ElectricalRun[],
  held: readonly HeldPoints[],
  referenceCelsius: number,
  constant: Estimate | null,
): PooledBalance | null {
  const rows = [
    ...runs.flatMap(({ moving, temperature }) =>
      moving.balanceRows.map(row => atReference(row, temperature, referenceCelsius)),
    ),
    ...held.flatMap(({ points, temperature }) =>
      points.flatMap(point => {
        const row = levelBalance({ ...point.level, speed: null }, 0)
        return row ? atReference(row, temperature, referenceCelsius) : []
      }),
    ),
  ]
  const balance = fitBalance(rows, constant)
  const amps = rows.map(row => Math.abs(row.current))
  return balance && { ...balance, tellsResistance: Math.max(...amps) > LEVER * Math.min(...amps) }
}

export interface PooledBalance extends ElectricalBalance {
  /** The currents differ enough for a slope over them to be the resistance and not the brushes' doing. */
  readonly tellsResistance: boolean
}

/** Largest over smallest current. */
const LEVER = 2

/** Levels of a locked rotor with the temperature of the run. */
export interface HeldPoints {
  readonly points: readonly StallPoint[]
  readonly temperature: TestTemperature
}

function atReference(row: BalanceRow, { celsius }: TestTemperature, reference: number): BalanceRow {
  const factor = resistanceAt(1, reference, celsius)
  return { ...row, current: row.current * factor, currentSigma: row.currentSigma * factor }
}
