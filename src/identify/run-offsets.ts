import { triangleAt } from '../numerics/symmetric.ts'
import { chiSquareQuantile } from '../statistics/distributions.ts'
import type { JointModel, JointPoint, JointSums } from './joint-model.ts'

/** Standard deviation of ln R between runs to begin with. */
export const FIRST_OFFSET = 0.01

/** Scatter between runs counts only where chance would give it less often than this. */
const CHANCE = 0.01

/**
 * Variance of the runs' resistances about the motor's, by moments: each run's own estimate δ of
 * ln R − ln R_motor with its weight w,
 *   Q = Σ w (δ − δ̄)²,  s² = (Q − (n − 1)) / (Σ w − Σ w² / Σ w),
 * where Q is more than chance allows; else 0. Locked and turning runs count alike: a shaft that starts
 * draws most of its current near one angle, as a locked one does.
 * Source: R. DerSimonian, N. Laird, Meta-analysis in clinical trials (1986; from memory).
 */
export function estimateOffsets(model: JointModel, point: JointPoint, sums: JointSums): void {
  const column = model.resistanceColumn
  if (column < 0) return
  const own = sums.runs.flatMap(({ gradient, information }, r) => {
    const weight = information[triangleAt(column, column)]!
    return weight > 0 ? [{ value: point.offsets[r]! - gradient[column]! / weight, weight }] : []
  })
  const variance = own.length > 1 ? scatter(own) : 0
  for (const member of model.members) member.offsetVariance = variance
}

function scatter(own: readonly { value: number; weight: number }[]): number {
  const weights = own.reduce((sum, { weight }) => sum + weight, 0)
  const mean = own.reduce((sum, { value, weight }) => sum + weight * value, 0) / weights
  const q = own.reduce((sum, { value, weight }) => sum + weight * (value - mean) ** 2, 0)
  const freedom = own.length - 1
  if (q <= chiSquareQuantile(1 - CHANCE, freedom)) return 0
  const squares = own.reduce((sum, { weight }) => sum + weight * weight, 0)
  return (q - freedom) / (weights - squares / weights)
}
