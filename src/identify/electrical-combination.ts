import { fitBackEmf } from '../analysis/back-emf.ts'
import { needsDrop } from '../analysis/brush-model.ts'
import type { Moving } from '../analysis/moving.ts'
import type { KnownParameters } from '../analysis/result.ts'
import type { StallPoint } from '../analysis/stall-points.ts'
import type { SteadyLevel } from '../signals/steady-levels.ts'
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

/** Resistance, drop and inductance for want of a locked-rotor test, at the reference temperature. */
export interface FreeElectrical {
  readonly resistance: Estimate
  readonly brushDrop: Estimate | null
  readonly covariance: number
  readonly inductance: Estimate | null
}

/** From the voltage balance of whole recordings, averaged over the runs. */
export function balanceOfRuns(
  runs: readonly ElectricalRun[],
  referenceCelsius: number,
): FreeElectrical | null {
  const found = runs.flatMap(({ moving, temperature }) =>
    moving.balance ? { balance: moving.balance, temperature } : [],
  )
  if (found.length === 0) return null
  const each = found.map(({ balance, temperature }) => {
    const factor = resistanceAt(1, temperature.celsius, referenceCelsius)
    return {
      ...balance.resistance,
      value: balance.resistance.value * factor,
      standardUncertainty: balance.resistance.standardUncertainty * factor,
    }
  })
  const drops = found.flatMap(({ balance }) => balance.brushDrop ?? [])
  const inductances = found.flatMap(({ balance }) => balance.inductance ?? [])
  return {
    resistance: combineEstimates(each),
    brushDrop: drops.length > 0 ? combineEstimates(drops) : null,
    covariance: found.length === 1 ? found[0]!.balance.covariance[0]![1]! : 0,
    inductance: inductances.length > 0 ? combineEstimates(inductances) : null,
  }
}

/**
 * Locked levels at one current only, with levels of turning runs: together they tell R, V_b and k_e, where neither
 * does alone. Null where even then the columns cannot be told apart.
 */
export function poolLevels(
  points: readonly StallPoint[],
  turning: readonly SteadyLevel[],
): (FreeElectrical & { readonly backEmfConstant: Estimate }) | null {
  const held = points.map(point => ({
    ...point.level,
    speed: { value: 0, standardUncertainty: 0, slopePerSec: 0 },
  }))
  const levels = [...held, ...turning]
  const nothing: KnownParameters = {}
  const noDrop: KnownParameters = {
    brushDrop: { value: 0, standardUncertainty: 0, degreesOfFreedom: Number.POSITIVE_INFINITY },
  }
  const full = fitBackEmf(levels, nothing)
  const highest = Math.max(...levels.map(level => Math.abs(level.voltage?.value ?? 0)))
  const hasDrop = full !== null && needsDrop(full.brushDrop, highest)
  const fit = hasDrop ? full : fitBackEmf(levels, noDrop)
  if (!fit || !(fit.resistance.value > 0)) return null
  return {
    resistance: fit.resistance,
    brushDrop: hasDrop ? fit.brushDrop : null,
    covariance: fit.covariance[1]![2]!,
    backEmfConstant: fit.backEmfConstant,
    inductance: null,
  }
}
