import { failure, type Result, success } from '../base/result.ts'
import {
  type DampedStep,
  type DescentOptions,
  descend,
  expectedDecrease,
  stepWithin,
  TERMINATIONS,
  type Termination,
} from './levenberg-marquardt.ts'
import { Householder } from './linear/householder.ts'
import { linearLeastSquares } from './linear/least-squares.ts'

type Vector = Float64Array

/** A curve to be laid through data. */
export interface CurveProblem {
  readonly data: Vector
  /** f(p) at each observation; not finite where the curve does not exist. */
  values(parameters: Vector): Vector
  /** ∂f/∂pⱼ at each observation, one array a parameter. */
  slopes(parameters: Vector): readonly Vector[]
  /** Parameters stay at or above these; left out: anywhere. */
  readonly lowest?: readonly number[]
}

export interface NonlinearFit {
  readonly parameters: readonly number[]
  /** (JᵀJ)⁻¹ at the end; times `residualVariance` it is the covariance. */
  readonly inverseNormal: readonly (readonly number[])[]
  readonly residuals: Vector
  readonly squareSum: number
  readonly degreesOfFreedom: number
  /** Null without degrees of freedom. */
  readonly residualVariance: number | null
  readonly termination: Termination
  readonly passes: number
}

export type NonlinearFault = 'non-finite' | 'rank-deficient' | 'pass-limit'

/**
 * A cost need not have a unit, so its share decides: an expected gain of 1e-12 of it is a step of 1e-6 standard
 * uncertainties for each root of the degrees of freedom. Curved valleys may take thousands of passes.
 */
export const CURVE_OPTIONS: DescentOptions = {
  maxPasses: 4000,
  expectedGain: 0,
  expectedShare: 1e-12,
  firstDamping: 1e-3,
  leastDamping: 1e-16,
  slack: 0,
}

/** Share of a step at which the curve is tried for its bend. */
const AHEAD = 0.1
/** Most that the bend may add to a step, as a share of it; beyond that the step is too long. */
const MOST_BEND = 0.75
/** The scale of the damping keeps the steepest slopes seen, and forgets them after so many steps. */
const STEPS_OF_SCALE = 30

interface CurveState {
  readonly cost: number
  readonly residuals: Vector
  readonly columns: readonly Vector[]
  /** Half of ∂cost/∂pⱼ. */
  readonly gradient: Vector
}

/**
 * Nonlinear least squares, Σ (y − f(p))², by `descend`: each step from a QR decomposition of the slopes, bent by
 * the curve's second derivative along it, and at the end undamped steps for as long as they shrink. One start, one
 * minimum: where there are several, the start decides. Fails where the start has no finite cost, the slopes at the
 * end are linearly dependent, or `maxPasses` did not suffice.
 * Source: M. K. Transtrum, J. P. Sethna, Improvements to the Levenberg–Marquardt algorithm (2012) for the bend,
 * J. J. Moré (1978) for the scale that remembers (both from memory); checked against the certified nonlinear
 * sets in test/numerics/certified-curves.test.ts.
 */
export function nonlinearLeastSquares(
  problem: CurveProblem,
  start: readonly number[],
  options: DescentOptions = CURVE_OPTIONS,
): Result<NonlinearFit, NonlinearFault> {
  const evaluate = (point: Vector) => stateAt(problem, point)
  const move = (point: Vector, _: CurveState, step: Vector) =>
    point.map((value, j) => Math.max(value + step[j]!, problem.lowest?.[j] ?? -Infinity))
  const scale = new Float64Array(start.length)
  let steps = 0
  const dampedStep = (point: Vector, state: CurveState, damping: number) => {
    state.columns.forEach((column, j) => {
      scale[j] = steps % STEPS_OF_SCALE === 0 ? normOf(column) : Math.max(scale[j]!, normOf(column))
    })
    steps += 1
    return stepFrom(problem, point, state, scale, damping)
  }
  const expectedGain = Math.max(options.expectedGain, roundingOf(problem.data))
  const end = descend({ evaluate, move, dampedStep }, Float64Array.from(start), {
    ...options,
    expectedGain,
  })
  const { termination, passes } = end
  if (termination === 'non-finite') return failure('non-finite')
  if (!TERMINATIONS[termination].converged) return failure('pass-limit')

  let { point, state } = end
  let shortest = Infinity
  for (;;) {
    const last = dampedStep(point, state, 0)
    if (last === null || !(last.gain < shortest)) break
    shortest = last.gain / 2
    const candidate = move(point, state, last.step)
    const next = evaluate(candidate)
    if (!(next.cost <= state.cost * (1 + 1e-9))) break
    point = candidate
    state = next
  }
  const linear = linearLeastSquares(state.columns, state.residuals)
  if (!linear.ok) return failure('rank-deficient')
  const degreesOfFreedom = state.residuals.length - start.length
  return success({
    parameters: [...point],
    inverseNormal: linear.value.inverseNormal,
    residuals: state.residuals,
    squareSum: state.cost,
    degreesOfFreedom,
    residualVariance: degreesOfFreedom > 0 ? state.cost / degreesOfFreedom : null,
    termination,
    passes,
  })
}

/** Sum of squares that rounding alone leaves. */
function roundingOf(data: Vector): number {
  return data.reduce((sum, y) => sum + (Number.EPSILON * y) ** 2, 0)
}

function residualsAt({ data, values }: CurveProblem, point: Vector): Vector {
  const model = values(point)
  return data.map((y, i) => y - model[i]!)
}

function stateAt(problem: CurveProblem, point: Vector): CurveState {
  const residuals = residualsAt(problem, point)
  const cost = residuals.reduce((sum, r) => sum + r * r, 0)
  if (!Number.isFinite(cost)) return { cost: Infinity, residuals, columns: [], gradient: point }
  const columns = problem.slopes(point)
  const gradient = Float64Array.from(columns, column =>
    column.reduce((sum, slope, i) => sum - slope * residuals[i]!, 0),
  )
  return { cost: gradient.every(Number.isFinite) ? cost : Infinity, residuals, columns, gradient }
}

/** One damped step and its bend; null where it cannot be solved or bends too much to be trusted. */
function stepFrom(
  problem: CurveProblem,
  point: Vector,
  state: CurveState,
  scale: Vector,
  damping: number,
): DampedStep | null {
  const untold = new Set<number>()
  scale.forEach((norm, j) => {
    if (!(norm > 0)) untold.add(j)
  })
  let bend: Vector | null = null
  const step = stepWithin(
    state.gradient,
    j => point[j]! <= (problem.lowest?.[j] ?? -Infinity),
    untold,
    held => {
      const solve = dampedSolver(state.columns, scale, held, damping)
      const velocity = solve(state.residuals)
      if (velocity === null || damping === 0) return velocity
      bend = solve(curvatureAlong(problem, point, state, velocity))
      return velocity
    },
  )
  if (step === null) return null
  const gain = expectedDecrease(state.gradient, step)
  if (damping === 0) return { step, gain }
  if (bend === null) return null
  const bent: Vector = bend
  const length = (v: Vector) => Math.hypot(...v.map((x, j) => x * scale[j]!))
  if (!(2 * length(bent) <= MOST_BEND * length(step))) return null
  return { step: step.map((v, j) => v + bent[j]! / 2), gain }
}

/** Second derivative of the curve along v, with the sign of a residual: −Σ ∂²f/∂pⱼ∂pₗ vⱼ vₗ. */
function curvatureAlong(
  problem: CurveProblem,
  point: Vector,
  state: CurveState,
  v: Vector,
): Vector {
  const ahead = residualsAt(
    problem,
    point.map((value, j) => value + AHEAD * v[j]!),
  )
  return ahead.map((r, i) => {
    let straight = 0
    for (let j = 0; j < v.length; j++) straight += state.columns[j]![i]! * v[j]!
    return (2 / AHEAD) * ((r - state.residuals[i]!) / AHEAD + straight)
  })
}
/** Least squares of the slopes above √damping times their scale: damped steps without normal equations. */
function dampedSolver(
  columns: readonly Vector[],
  scale: Vector,
  held: ReadonlySet<number>,
  damping: number,
): (residuals: Vector) => Vector | null {
  const free = columns.flatMap((_, j) => (held.has(j) ? [] : [j]))
  const rows = columns[0]!.length
  const extra = damping > 0 ? free.length : 0
  const stacked = free.map((j, a) => {
    const column = new Float64Array(rows + extra)
    column.set(columns[j]!)
    if (extra > 0) column[rows + a] = Math.sqrt(damping) * scale[j]!
    return column
  })
  const solve = damping > 0 ? triangularSolver(stacked) : refinedSolver(stacked)
  return residuals => {
    const step = new Float64Array(columns.length)
    if (free.length === 0) return step
    const target = new Float64Array(rows + extra)
    target.set(residuals)
    const found = solve(target)
    if (found === null) return null
    free.forEach((j, a) => {
      step[j] = found[a]!
    })
    return step
  }
}

type Solver = (target: Vector) => ArrayLike<number> | null

/** For damped columns, which are independent: on the way any step that goes down will do. */
function triangularSolver(columns: readonly Vector[]): Solver {
  const reduced = new Householder(columns)
  return target => {
    const found = reduced.solve(target)
    return found.every(Number.isFinite) ? found : null
  }
}

/** For the last steps: as exact as can be, and null where the columns are dependent. */
function refinedSolver(columns: readonly Vector[]): Solver {
  return target => {
    const fit = linearLeastSquares(columns, target)
    return fit.ok ? fit.value.coefficients : null
  }
}

const normOf = (column: Vector) => Math.sqrt(column.reduce((sum, s) => sum + s * s, 0))
