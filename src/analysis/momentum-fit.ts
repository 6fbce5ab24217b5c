import { linearLeastSquares } from '../numerics/linear/least-squares.ts'
import { autocorrelationTime } from '../statistics/autocorrelation-time.ts'
import { DRAG_TERMS, type DragTerm } from './friction.ts'
import type { MomentumData } from './momentum-data.ts'

export interface MomentumFit {
  /** 1/j in rad/(A s²); 0 where it was not fitted. */
  readonly gain: number
  /** Drag over inertia, in the order of `DRAG_TERMS`: rad/s², 1/s, 1/rad, rad/s². */
  readonly deceleration: readonly number[]
  /** Of gain and the decelerations, in that order. */
  readonly covariance: readonly (readonly number[])[]
  readonly terms: readonly DragTerm[]
  readonly degreesOfFreedom: number
  /** Speed at the start of each stretch. */
  readonly startSpeeds: readonly number[]
  /** Root mean square of what is left of the speed. */
  readonly residualRadPerSec: number
}

export interface GainFit {
  /** 1/j in rad/(A s²). */
  readonly gain: number
  readonly standardUncertainty: number
  readonly degreesOfFreedom: number
  readonly startSpeeds: readonly number[]
}

/**
 * Least squares for 1/j (where a current flowed) and the decelerations of the terms asked for, a start speed for
 * each stretch besides. Uncertainties carry the correlation of the residuals. Null where the columns cannot be
 * told apart.
 */
export function fitMomentum(data: MomentumData, terms: readonly DragTerm[]): MomentumFit | null {
  const driven = data.stretches.some(stretch => stretch.kind !== 'coast')
  const drags = terms.map(term => DRAG_TERMS.indexOf(term))
  const columns: Float64Array[] = drags.map(j => data.drag[j]!.map(value => -value))
  // Where each result stands among the columns: gain first, then the decelerations.
  const order = [...(driven ? [0] : []), ...drags.map(j => j + 1)]
  if (driven) columns.unshift(data.charge)
  return regressSpeed(data, columns, (values, covariance, rest) => {
    const places = [0, ...DRAG_TERMS.map((_, j) => j + 1)].map(j => order.indexOf(j))
    const all = places.map(at => values[at] ?? 0)
    return {
      gain: all[0]!,
      deceleration: all.slice(1),
      covariance: places.map(a => places.map(b => (a < 0 || b < 0 ? 0 : covariance[a]![b]!))),
      terms,
      ...rest,
    }
  })
}

/** 1/j alone, with the drag known as a current: ∫ (i − drag) dt against the speed. */
export function fitGain(data: MomentumData, drag: readonly number[]): GainFit | null {
  const net = data.charge.map((charge, b) =>
    DRAG_TERMS.reduce((sum, _, j) => sum - drag[j]! * data.drag[j]![b]!, charge),
  )
  return regressSpeed(data, [net], (values, covariance, rest) => ({
    gain: values[0]!,
    standardUncertainty: Math.sqrt(covariance[0]![0]!),
    degreesOfFreedom: rest.degreesOfFreedom,
    startSpeeds: rest.startSpeeds,
  }))
}

interface Rest {
  readonly degreesOfFreedom: number
  readonly startSpeeds: readonly number[]
  readonly residualRadPerSec: number
}

function regressSpeed<T>(
  data: MomentumData,
  columns: readonly Float64Array[],
  build: (values: readonly number[], covariance: readonly (readonly number[])[], rest: Rest) => T,
): T | null {
  // Taking each stretch's mean off is the same as fitting its start speed, and leaves the columns few.
  const means = [data.speed, ...columns].map(column => stretchMeans(data, column))
  const centred = [data.speed, ...columns].map((column, j) =>
    column.map((value, b) => value - means[j]![data.stretch[b]!]!),
  )
  const fit = linearLeastSquares(centred.slice(1), centred[0]!, data.weight)
  const starts = data.stretches.length
  const freedom = data.speed.length - columns.length - starts
  if (!fit.ok || freedom <= 0) return null
  const { coefficients, inverseNormal, residuals, weightedSquareSum } = fit.value
  const correlation = autocorrelationTime(residuals.map((r, b) => r * Math.sqrt(data.weight[b]!)))
  const spread = (weightedSquareSum / freedom) * correlation
  const squares = residuals.reduce((sum, r) => sum + r * r, 0)
  return build(
    coefficients,
    inverseNormal.map(row => row.map(value => value * spread)),
    {
      degreesOfFreedom: Math.max(1, data.speed.length / correlation - columns.length - starts),
      startSpeeds: Array.from({ length: starts }, (_, s) =>
        coefficients.reduce((sum, c, j) => sum - c * means[j + 1]![s]!, means[0]![s]!),
      ),
      residualRadPerSec: Math.sqrt(squares / data.speed.length),
    },
  )
}

function stretchMeans(
  { stretch, stretches, weight }: MomentumData,
  column: Float64Array,
): number[] {
  const sums = stretches.map(() => 0)
  const weights = stretches.map(() => 0)
  for (let b = 0; b < column.length; b++) {
    const s = stretch[b]!
    sums[s]! += weight[b]! * column[b]!
    weights[s]! += weight[b]!
  }
  return sums.map((sum, s) => sum / weights[s]!)
}
