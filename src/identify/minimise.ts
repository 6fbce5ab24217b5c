import { coordinateValue, isBounded, movePoint } from '../motor/parameters.ts'
import {
  type DescentOptions,
  descend,
  expectedDecrease,
  stepWithin,
  TERMINATIONS,
  type Termination,
} from '../numerics/levenberg-marquardt.ts'
import { cholesky, solveCholesky, triangleAt, triangleSize } from '../numerics/symmetric.ts'
import type { JointModel, JointPoint, JointSums } from './joint-model.ts'

export { TERMINATIONS }

/**
 * The cost is χ². An expected gain of 1e-5 is a step of 0.003 standard uncertainties. Transitions may hop
 * from sample to sample: differences far below one unit of χ² are no failure.
 */
export const MINIMISE_OPTIONS: DescentOptions = {
  maxPasses: 60,
  expectedGain: 1e-5,
  expectedShare: 0,
  firstDamping: 1e-3,
  slack: 1e-3,
}

/** Longest step of a logarithm. */
const LONGEST_STEP = 1

export interface Minimum {
  readonly point: JointPoint
  readonly sums: JointSums
  readonly termination: Termination
  readonly passes: number
  /** False where the fit was cancelled or had nothing to begin with. */
  readonly usable: boolean
}

/**
 * Levenberg–Marquardt on the accumulated normal equations, columns scaled to unit diagonal, bounded
 * coordinates held at zero while the cost wants them below. Gains stay as they are.
 * Source: J. J. Moré, The Levenberg–Marquardt algorithm (1978; from memory).
 */
export function minimise(
  model: JointModel,
  start: JointPoint,
  goOn: () => boolean,
  options: DescentOptions = MINIMISE_OPTIONS,
): Minimum {
  const { coordinates, tied } = model.choices.layout
  const end = descend<JointPoint, JointSums>(
    {
      evaluate: point => model.evaluate(point, true),
      dampedStep: (point, sums, damping) => {
        const step = dampedStep(model, point, sums, damping)
        return step && { step, gain: expectedDecrease(sums.gradient, step) }
      },
      move: (point, sums, step) => ({
        motor: movePoint(point.motor, coordinates, step, tied),
        offsets: model.moveOffsets(point.offsets, sums, step),
      }),
    },
    start,
    options,
    goOn,
  )
  const { point, state, termination, passes } = end
  const usable = termination !== 'cancelled' && termination !== 'non-finite'
  return { point, sums: state, termination, passes, usable }
}

/** The damped step, bounds respected; null where the equations cannot be solved. */
function dampedStep(
  model: JointModel,
  point: JointPoint,
  sums: JointSums,
  damping: number,
): Float64Array | null {
  const { coordinates } = model.choices.layout
  const untold = new Set<number>()
  for (let j = 0; j < model.size; j++) {
    if (!(sums.information[triangleAt(j, j)]! > 0)) untold.add(j)
  }
  const isAtBound = (j: number) =>
    isBounded(coordinates[j]!) && coordinateValue(point.motor, coordinates[j]!) <= 0
  const step = stepWithin(sums.gradient, isAtBound, untold, held =>
    solveFree(sums, model.size, held, damping),
  )
  return step && shorten(model, step)
}

/** (N + damping · diag N) step = −g for the coordinates that are not held. */
function solveFree(
  sums: JointSums,
  size: number,
  held: ReadonlySet<number>,
  damping: number,
): Float64Array | null {
  const free = Array.from({ length: size }, (_, j) => j).filter(j => !held.has(j))
  const n = free.length
  const scale = free.map(j => 1 / Math.sqrt(sums.information[triangleAt(j, j)]!))
  const matrix = new Float64Array(triangleSize(n))
  const right = new Float64Array(n)
  for (let a = 0; a < n; a++) {
    right[a] = -sums.gradient[free[a]!]! * scale[a]!
    for (let b = 0; b <= a; b++) {
      const value = sums.information[triangleAt(free[a]!, free[b]!)]! * scale[a]! * scale[b]!
      matrix[triangleAt(a, b)] = a === b ? value * (1 + damping) : value
    }
  }
  const factor = cholesky(matrix, n)
  if (factor === null) return null
  solveCholesky(factor, n, right)
  const step = new Float64Array(size)
  for (let a = 0; a < n; a++) step[free[a]!] = right[a]! * scale[a]!
  return step
}

/** Logarithms may not leap. */
function shorten(model: JointModel, step: Float64Array): Float64Array {
  let longest = 0
  model.choices.layout.coordinates.forEach((coordinate, j) => {
    if (coordinate.startsWith('ln')) longest = Math.max(longest, Math.abs(step[j]!))
  })
  const share = Math.min(1, LONGEST_STEP / longest)
  return share < 1 ? step.map(x => x * share) : step
}
