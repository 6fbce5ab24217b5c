import { isBounded, coordinateValue, movePoint } from '../motor/parameters.ts'
import { cholesky, solveCholesky, triangleAt, triangleSize } from '../numerics/symmetric.ts'
import type { JointModel, JointPoint, JointSums } from './joint-model.ts'

export interface MinimiseOptions {
  readonly maxPasses: number
  /** Stops where the next step is expected to lower χ² by less. */
  readonly expectedGain: number
  readonly firstDamping: number
}

/** An expected gain of 1e-5 is a step of 0.003 standard uncertainties. */
export const MINIMISE_OPTIONS: MinimiseOptions = {
  maxPasses: 60,
  expectedGain: 1e-5,
  firstDamping: 1e-3,
}

/** Longest step of a logarithm. */
const LONGEST_STEP = 1

export const TERMINATIONS = {
  converged: { converged: true, text: 'converged: the next step would change nothing that counts' },
  'no-descent': { converged: true, text: 'no further descent is possible in double precision' },
  'pass-limit': { converged: false, text: 'stopped at the limit of passes' },
  cancelled: { converged: false, text: 'cancelled' },
  'non-finite': { converged: false, text: 'the model has no finite cost at its start values' },
} as const

export type Termination = keyof typeof TERMINATIONS

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
  options: MinimiseOptions = MINIMISE_OPTIONS,
): Minimum {
  const { coordinates, tied } = model.choices.layout
  let point = start
  let sums = model.evaluate(point, true)
  let passes = 1
  let damping: number = options.firstDamping
  const done = (termination: Termination): Minimum => ({
    point,
    sums,
    termination,
    passes,
    usable: termination !== 'cancelled' && termination !== 'non-finite',
  })
  if (!Number.isFinite(sums.cost)) return done('non-finite')
  while (passes < options.maxPasses) {
    if (!goOn()) return done('cancelled')
    const step = dampedStep(model, point, sums, damping)
    if (step === null) {
      damping = Math.max(10 * damping, 1e-9)
      if (damping > 1e12) return done('no-descent')
      continue
    }
    const offsets = model.moveOffsets(point.offsets, sums, step)
    const candidate = { motor: movePoint(point.motor, coordinates, step, tied), offsets }
    const gain = expectedDecrease(sums, step)
    const next = model.evaluate(candidate, true)
    passes += 1
    // Transitions may hop from sample to sample: differences far below one unit of χ² are no failure.
    const accepted = next.cost <= sums.cost + Math.min(1e-3, 0.1 * gain)
    if (!accepted) {
      if (gain < options.expectedGain) return done('converged')
      damping = Math.max(10 * damping, 1e-6)
      if (damping > 1e10) return done('no-descent')
      continue
    }
    point = candidate
    sums = next
    damping = damping > 1e-8 ? damping / 10 : 0
    if (gain < options.expectedGain) return done('converged')
  }
  return done('pass-limit')
}

/** The damped step, bounds respected; null where the equations cannot be solved. */
function dampedStep(
  model: JointModel,
  point: JointPoint,
  sums: JointSums,
  damping: number,
): Float64Array | null {
  const { coordinates } = model.choices.layout
  const held = new Set<number>()
  coordinates.forEach((coordinate, j) => {
    if (!(sums.information[triangleAt(j, j)]! > 0)) held.add(j)
    if (isBounded(coordinate) && coordinateValue(point.motor, coordinate) <= 0) {
      if (sums.gradient[j]! >= 0) held.add(j)
    }
  })
  for (;;) {
    const step = solveFree(sums, model.size, held, damping)
    if (step === null) return null
    // A coordinate at its bound that the joint step still drives below is held too.
    const leaving = coordinates.findIndex(
      (coordinate, j) =>
        isBounded(coordinate) &&
        !held.has(j) &&
        step[j]! < 0 &&
        coordinateValue(point.motor, coordinate) <= 0,
    )
    if (leaving < 0) return shorten(model, step)
    held.add(leaving)
  }
}

export function solveFree(
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

/** By how much the quadratic model says χ² falls. */
function expectedDecrease(sums: JointSums, step: Float64Array): number {
  let linear = 0
  for (let j = 0; j < step.length; j++) linear += sums.gradient[j]! * step[j]!
  return Math.abs(linear)
}
