import { triangleAt } from '../numerics/symmetric.ts'
import type { TestRun } from '../records/test-run.ts'
import { chiSquareQuantile } from '../statistics/distributions.ts'
import type { JointModel, JointPoint, JointSums } from './joint-model.ts'

/** Standard deviation of ln R between groups of runs to begin with. */
export const FIRST_OFFSET = 0.01

/** Scatter between groups counts only where chance would give it less often than this. */
const CHANCE = 0.01

/**
 * Variance of the groups' resistances about the motor's, by moments: each group's own estimate δ of
 * ln R − ln R_motor with its weight w,
 *   Q = Σ w (δ − δ̄)²,  s² = (Q − (n − 1)) / (Σ w − Σ w² / Σ w),
 * where Q is more than chance allows; else 0. Groups of turning and of locked runs count alike: a shaft
 * that starts draws most of its current near one angle, as a locked one does.
 * Source: R. DerSimonian, N. Laird, Meta-analysis in clinical trials (1986; from memory).
 */
export function offsetVarianceOf(model: JointModel, point: JointPoint, sums: JointSums): number {
  const column = model.resistanceColumn
  if (column < 0) return 0
  const own = sums.groups.flatMap(({ gradient, information }, g) => {
    const weight = information[triangleAt(column, column)]!
    return weight > 0 ? [{ value: point.offsets[g]! - gradient[column]! / weight, weight }] : []
  })
  return own.length > 1 ? scatter(own) : 0
}

/** The group of each run: see `Member.group`. */
export function groupsOf(runs: readonly TestRun[], isLocked: (run: TestRun) => boolean): number[] {
  const known = new Map<string, number>()
  return runs.map(run => {
    const angle = run.conditions.shaftAngleRad
    const key = !isLocked(run) ? 'turning' : angle === null ? `run ${run.id}` : `angle ${angle}`
    const group = known.get(key) ?? known.size
    known.set(key, group)
    return group
  })
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
