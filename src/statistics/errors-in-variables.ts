import { Matrix, inverse } from 'ml-matrix'
import { failure, type Result, success } from '../base/result.ts'
import { type LinearFault, linearLeastSquares } from '../numerics/linear/least-squares.ts'

/** One regressor with the standard deviation of each of its values; null where they are exact. */
export interface NoisyColumn {
  readonly values: ArrayLike<number>
  readonly sigmas: ArrayLike<number> | null
}

/** What was known of the coefficients before: a mean, and the inverse of its covariance (zero rows: nothing). */
export interface Prior {
  readonly mean: readonly number[]
  readonly information: readonly (readonly number[])[]
}

export interface ErrorsInVariablesOptions {
  readonly prior?: Prior
  /** Lets the equation itself scatter by more than the stated errors, as found from the residuals. */
  readonly excess?: boolean
}

export interface ErrorsInVariablesFit {
  readonly coefficients: readonly number[]
  readonly covariance: readonly (readonly number[])[]
  readonly residuals: Float64Array
  /** Standard deviation of the scatter beyond the stated errors; 0 where those explain the residuals. */
  readonly excess: number
  /** Σ r²/V with the stated errors alone. */
  readonly chiSquare: number
  readonly freedom: number
  /** For the t factor: `freedom` where the scatter was estimated from the residuals, else infinite. */
  readonly degreesOfFreedom: number
}

interface Problem {
  readonly columns: readonly NoisyColumn[]
  readonly y: ArrayLike<number>
  readonly sigmaY: ArrayLike<number>
  readonly prior: Prior | undefined
}

const MAX_ITERATIONS = 200
const STEP_TOLERANCE = 1e-13

/**
 * Maximum-likelihood fit of y = Σ cⱼ xⱼ where y and any of the x carry independent normal errors:
 * minimises Σ r²/V, V = σ_y² + Σ cⱼ² σⱼ² + s². Each iteration regresses on the adjusted points
 * xⱼ + cⱼ σⱼ² r/V, which solves the likelihood equations exactly; for a straight line this is York's method.
 *
 * `excess` finds s by the rule of Paule and Mandel: Σ r²/V equals its degrees of freedom, or s = 0.
 * Where every stated error is negligible the result is ordinary least squares with its usual standard errors.
 * Sources: D. York et al., Am. J. Phys. 72 (2004) 367; R. C. Paule, J. Mandel, J. Res. NBS 87 (1982) 377.
 */
export function errorsInVariables(
  columns: readonly NoisyColumn[],
  y: ArrayLike<number>,
  sigmaY: ArrayLike<number>,
  options: ErrorsInVariablesOptions = {},
): Result<ErrorsInVariablesFit, LinearFault> {
  const problem: Problem = { columns, y, sigmaY, prior: options.prior }
  const freedom = y.length + priorRank(options.prior) - columns.length
  if (freedom < 0) return failure('too-few-points')
  const start = startValues(problem)
  if (!start.ok) return start
  const floor = roundingFloor(problem)
  const stated = solveAt(problem, floor, start.value)
  if (!stated) return failure('rank-deficient')
  let fit = stated
  let excessVariance = 0
  if (options.excess && freedom > 0 && stated.chiSquare > freedom) {
    let low = floor
    let high = Math.max(floor, meanSquare(stated.residuals)) * 4
    const wide = () => solveAt(problem, high, fit.coefficients)?.chiSquare ?? 0
    while (wide() > freedom) high *= 4
    for (let step = 0; step < 100 && high - low > 1e-10 * high; step++) {
      const middle = low > high * 1e-6 ? (low + high) / 2 : Math.sqrt(low * high)
      const trial = solveAt(problem, middle, fit.coefficients)
      if (!trial) break
      fit = trial
      if (trial.chiSquare > freedom) low = middle
      else high = middle
    }
    excessVariance = high
  }
  return success({
    coefficients: fit.coefficients,
    covariance: fit.covariance,
    residuals: fit.residuals,
    excess: Math.sqrt(excessVariance),
    chiSquare: stated.chiSquare,
    freedom,
    degreesOfFreedom: excessVariance > 0 ? freedom : Number.POSITIVE_INFINITY,
  })
}

interface Solution {
  readonly coefficients: readonly number[]
  readonly covariance: readonly (readonly number[])[]
  readonly residuals: Float64Array
  readonly chiSquare: number
}

function solveAt(problem: Problem, extra: number, start: readonly number[]): Solution | null {
  let coefficients = start
  for (let iteration = 0; ; iteration++) {
    const step = iterate(problem, extra, coefficients)
    if (!step) return null
    const change = Math.max(
      ...step.coefficients.map((c, j) => Math.abs(c - coefficients[j]!) / step.scales[j]!),
    )
    const size = Math.max(...step.coefficients.map((c, j) => Math.abs(c) / step.scales[j]!))
    coefficients = step.coefficients
    if (change <= STEP_TOLERANCE * size || iteration === MAX_ITERATIONS) {
      const { residuals, variances } = residualsAt(problem, extra, coefficients)
      const chiSquare = residuals.reduce((sum, r, i) => sum + r ** 2 / variances[i]!, 0)
      return {
        coefficients,
        covariance: step.covariance,
        residuals,
        chiSquare: chiSquare + priorChiSquare(problem.prior, coefficients),
      }
    }
  }
}

/** Solves (F*ᵀWF + P) c = F*ᵀWy + P c₀ with columns scaled to one; F* holds the adjusted points. */
function iterate(problem: Problem, extra: number, current: readonly number[]) {
  const { columns, y, prior } = problem
  const { residuals, variances } = residualsAt(problem, extra, current)
  const unknowns = columns.length
  const adjusted = columns.map((column, j) =>
    Float64Array.from(column.values, (value, i) =>
      column.sigmas
        ? value + (current[j]! * column.sigmas[i]! ** 2 * residuals[i]!) / variances[i]!
        : value,
    ),
  )
  const left = new Matrix(unknowns, unknowns)
  const normal = new Matrix(unknowns, unknowns)
  const right = new Matrix(unknowns, 1)
  for (let j = 0; j < unknowns; j++) {
    const weighted = adjusted[j]!.map((value, i) => value / variances[i]!)
    right.set(j, 0, dot(weighted, y))
    for (let k = 0; k < unknowns; k++) {
      left.set(j, k, dot(weighted, columns[k]!.values))
      normal.set(j, k, dot(weighted, adjusted[k]!))
    }
    for (let k = 0; prior && k < unknowns; k++) {
      const information = prior.information[j]![k]!
      right.set(j, 0, right.get(j, 0) + information * prior.mean[k]!)
      left.set(j, k, left.get(j, k) + information)
      normal.set(j, k, normal.get(j, k) + information)
    }
  }
  const scales = columns.map((_, j) => 1 / Math.sqrt(normal.get(j, j)))
  if (scales.some(scale => !(scale > 0 && scale < Infinity))) return null
  const diagonal = Matrix.diag(scales)
  try {
    const covariance = diagonal.mmul(inverse(diagonal.mmul(normal).mmul(diagonal))).mmul(diagonal)
    const solution = diagonal.mmul(
      inverse(diagonal.mmul(left).mmul(diagonal)).mmul(diagonal.mmul(right)),
    )
    const coefficients = solution.to1DArray()
    if (coefficients.some(c => !Number.isFinite(c))) return null
    return { coefficients, covariance: covariance.to2DArray(), scales }
  } catch {
    return null // ml-matrix throws on a singular matrix: the columns are dependent
  }
}

function dot(a: ArrayLike<number>, b: ArrayLike<number>): number {
  let sum = 0
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!
  return sum
}

function residualsAt(problem: Problem, extra: number, coefficients: readonly number[]) {
  const { columns, y, sigmaY } = problem
  const residuals = Float64Array.from(y)
  const variances = Float64Array.from(sigmaY, sigma => sigma ** 2 + extra)
  for (const [j, column] of columns.entries()) {
    for (let i = 0; i < residuals.length; i++) {
      residuals[i]! -= coefficients[j]! * column.values[i]!
      if (column.sigmas) variances[i]! += (coefficients[j]! * column.sigmas[i]!) ** 2
    }
  }
  return { residuals, variances }
}

function startValues(problem: Problem): Result<readonly number[], LinearFault> {
  const plain = linearLeastSquares(
    problem.columns.map(column => column.values),
    problem.y,
  )
  if (plain.ok) return success(plain.value.coefficients)
  return problem.prior ? success(problem.prior.mean) : plain
}

/** Variance below which differences are rounding: keeps weights finite where no error is stated. */
function roundingFloor(problem: Problem): number {
  let largest = 0
  for (let i = 0; i < problem.y.length; i++) largest = Math.max(largest, Math.abs(problem.y[i]!))
  return (largest * 1e-12) ** 2 || Number.MIN_VALUE * 1e20
}

function priorRank(prior: Prior | undefined): number {
  return prior ? prior.information.filter((row, j) => row[j]! > 0).length : 0
}

function priorChiSquare(prior: Prior | undefined, coefficients: readonly number[]): number {
  if (!prior) return 0
  const distance = coefficients.map((c, j) => c - prior.mean[j]!)
  return distance.reduce(
    (sum, a, j) => sum + a * distance.reduce((s, b, k) => s + prior.information[j]![k]! * b, 0),
    0,
  )
}

function meanSquare(values: Float64Array): number {
  return values.reduce((sum, value) => sum + value * value, 0) / values.length
}
