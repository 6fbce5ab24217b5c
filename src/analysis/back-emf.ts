import { inverse, Matrix } from 'ml-matrix'
import type { SteadyLevel } from '../signals/steady-levels.ts'
import {
  errorsInVariables,
  type NoisyColumn,
  type Prior,
} from '../statistics/errors-in-variables.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'
import { type BrushModel, brushVolt } from './brush-model.ts'
import type { KnownParameters } from './result.ts'

/** v = k_e ω + R i + V_b(i) over steady turning levels. */
export interface BackEmfFit {
  readonly backEmfConstant: Estimate
  readonly resistance: Estimate
  readonly brushDrop: Estimate
  /** Of k_e, R and V_b. */
  readonly covariance: readonly (readonly number[])[]
  readonly residualVolt: Float64Array
  readonly excessVolt: number
}

/**
 * The back-EMF constant with what is known of R and V_b taken as prior values with their uncertainties, so that
 * a brush drop smaller at no-load current than in a stalled motor can show itself. Without a prior all three come
 * from the levels, if their currents differ enough. Null where they do not.
 */
export function fitBackEmf(
  levels: readonly SteadyLevel[],
  known: KnownParameters,
): BackEmfFit | null {
  const used = levels.filter(level => level.voltage && level.current && level.speed)
  if (used.length === 0) return null
  const unit: BrushModel = { dropVolt: 1, kneeAmp: known.brushKneeAmp ?? 0 }
  const forward = used.filter(level => level.speed!.value > 0).length
  const columns: NoisyColumn[] = [
    column(used, 'speed'),
    column(used, 'current'),
    { values: used.map(level => brushVolt(unit, level.current!.value)), sigmas: null },
  ]
  if (Math.min(forward, used.length - forward) >= 2) {
    columns.push({ values: used.map(() => 1), sigmas: null })
  }
  const fit = errorsInVariables(
    columns,
    used.map(level => level.voltage!.value),
    used.map(level => level.voltage!.standardUncertainty),
    { excess: true, ...priorOf(known, columns.length) },
  )
  if (!fit.ok) return null
  const { coefficients, covariance, degreesOfFreedom, residuals, excess } = fit.value
  const estimate = (j: number): Estimate => ({
    value: coefficients[j]!,
    standardUncertainty: Math.sqrt(covariance[j]![j]!),
    degreesOfFreedom,
  })
  return {
    backEmfConstant: estimate(0),
    resistance: estimate(1),
    brushDrop: estimate(2),
    covariance: covariance.slice(0, 3).map(row => row.slice(0, 3)),
    residualVolt: residuals,
    excessVolt: excess,
  }
}

function column(levels: readonly SteadyLevel[], channel: 'speed' | 'current'): NoisyColumn {
  return {
    values: levels.map(level => level[channel]!.value),
    sigmas: levels.map(level => level[channel]!.standardUncertainty),
  }
}

/** Relative standard uncertainty that stands for an exactly known value. */
const AS_GOOD_AS_EXACT = 1e-9

function priorOf(known: KnownParameters, unknowns: number): { prior?: Prior } {
  const { resistance, brushDrop } = known
  if (!resistance && !brushDrop) return {}
  const sigma = (e: Estimate) =>
    Math.max(e.standardUncertainty, AS_GOOD_AS_EXACT * Math.abs(e.value), Number.MIN_VALUE * 1e20)
  const mean = new Array<number>(unknowns).fill(0)
  const information = mean.map(() => new Array<number>(unknowns).fill(0))
  if (resistance) mean[1] = resistance.value
  if (brushDrop) mean[2] = brushDrop.value
  if (resistance && brushDrop) {
    const both = known.resistanceBrushCovariance ?? 0
    const covariance = [
      [sigma(resistance) ** 2 * (1 + 1e-9), both],
      [both, sigma(brushDrop) ** 2 * (1 + 1e-9)],
    ]
    const inner = inverse(new Matrix(covariance)).to2DArray()
    for (const a of [0, 1]) for (const b of [0, 1]) information[a + 1]![b + 1] = inner[a]![b]!
  } else if (resistance) {
    information[1]![1] = 1 / sigma(resistance) ** 2
  } else {
    information[2]![2] = 1 / sigma(brushDrop!) ** 2
  }
  return { prior: { mean, information } }
}
