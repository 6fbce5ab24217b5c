import type { PreparedRun } from '../motor/prepared-run.ts'

/**
 * What half weights at both ends leave out of an integral over samples, −c [T² x′] from one end to the other:
 * c = 1/12 for readings at a moment (Euler and Maclaurin), 1/8 for means over the sample; a value between.
 */
const SHARE = 0.1

/** Correction of ∫x dt from the middle of step a to that of step b, slopes taken from the samples around. */
export function endCorrection(
  run: PreparedRun,
  values: Float64Array,
  a: number,
  b: number,
): number {
  return SHARE * (changeAt(run, values, a) - changeAt(run, values, b))
}

/** T² x′ at a step. */
function changeAt(run: PreparedRun, values: Float64Array, k: number): number {
  const span = (j: number) => run.spanOfCell[run.cellOf[j]!]
  const isNeighbour = (j: number) =>
    j >= 0 && j < run.stepCount && span(j) === span(k) && Number.isFinite(values[j]!)
  const before = run.start[k] === 0 && isNeighbour(k - 1) ? k - 1 : k
  const after = isNeighbour(k + 1) && run.start[k + 1] === 0 ? k + 1 : k
  if (after === before) return 0
  const periodSec = run.classes[run.classOf[k]!]!.durationSec
  return (periodSec * (values[after]! - values[before]!)) / (after - before)
}
