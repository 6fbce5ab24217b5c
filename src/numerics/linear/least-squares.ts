import { Matrix, QrDecomposition, SingularValueDecomposition } from 'ml-matrix'
import { failure, type Result, success } from '../../base/result.ts'
import { Householder } from './householder.ts'

/** Estimates of a linear model y = Σ cⱼ xⱼ, and what their uncertainty follows from. */
export interface LinearFit {
  readonly coefficients: readonly number[]
  /**
   * (XᵀWX)⁻¹. It is the covariance itself where the weights are 1/σ² with σ known; where they are only
   * relative, multiply by `residualVariance`.
   */
  readonly inverseNormal: readonly (readonly number[])[]
  /** y − Xc, not weighted. */
  readonly residuals: Float64Array
  /** Σ w (y − Xc)². */
  readonly weightedSquareSum: number
  readonly degreesOfFreedom: number
  /** weightedSquareSum / degreesOfFreedom; null without degrees of freedom. */
  readonly residualVariance: number | null
}

export type LinearFault = 'too-few-points' | 'rank-deficient'

/** Columns are called dependent where a scaled singular value falls below this share of the largest. */
export const RANK_TOLERANCE = 1e-14

type Column = ArrayLike<number>

/**
 * Linear least squares by Householder QR with column scaling: minimises Σ w (y − Σ cⱼ xⱼ)².
 *
 * @param columns one array a regressor, each as long as `y`; a constant is a column of ones
 * @param weights 1/σ² of each observation; all one where left out. A weight of 0 leaves a row out.
 * Fails where there are fewer rows than coefficients or the columns are linearly dependent.
 * Source: G. H. Golub, C. F. Van Loan, Matrix Computations, section 5.3 (from memory); checked against
 * certified sets in test/numerics/linear.
 */
export function linearLeastSquares(
  columns: readonly Column[],
  y: Column,
  weights?: Column,
): Result<LinearFit, LinearFault> {
  const rows = y.length
  const unknowns = columns.length
  checkShapes(columns, rows, weights)
  const used = weights ? countPositive(weights) : rows
  if (unknowns === 0 || used < unknowns) return failure('too-few-points')

  const root = weights ? Float64Array.from(weights, Math.sqrt) : null
  const norms = columns.map(column => norm(column, root))
  if (norms.some(norm => !(norm > 0))) return failure('rank-deficient')
  // Dividing by a power of two rounds nothing.
  const scales = norms.map(norm => 2 ** Math.round(Math.log2(norm)))
  const design = columns.map((column, j) => weighed(column, root, scales[j]!))
  const target = weighed(y, root, 1)
  const reduced = new Householder(design.map(column => column.slice()))
  const triangle = new Matrix(reduced.triangle())
  const singular = new SingularValueDecomposition(triangle).diagonal
  if (!(Math.min(...singular) > RANK_TOLERANCE * Math.max(...singular))) {
    return failure('rank-deficient')
  }
  const scaled = refinedSolution(reduced, design, target)
  const coefficients = scales.map((scale, j) => scaled[j]! / scale)
  const inverse = new QrDecomposition(triangle).solve(Matrix.eye(unknowns))
  const normal = inverse.mmul(inverse.transpose())
  const inverseNormal = scales.map((a, j) => scales.map((b, k) => normal.get(j, k) / (a * b)))

  const residuals = Float64Array.from(y)
  for (const [j, column] of columns.entries()) {
    for (let i = 0; i < rows; i++) residuals[i]! -= coefficients[j]! * column[i]!
  }
  let weightedSquareSum = 0
  for (let i = 0; i < rows; i++) {
    weightedSquareSum += (root ? residuals[i]! * root[i]! : residuals[i]!) ** 2
  }
  const degreesOfFreedom = used - unknowns
  return success({
    coefficients,
    inverseNormal,
    residuals,
    weightedSquareSum,
    degreesOfFreedom,
    residualVariance: degreesOfFreedom > 0 ? weightedSquareSum / degreesOfFreedom : null,
  })
}

/** One step of iterative refinement: wins back the digits that the first solution lost to rounding. */
function refinedSolution(
  reduced: Householder,
  design: readonly Float64Array[],
  target: Float64Array,
): Float64Array {
  const first = reduced.solve(target)
  const remainder = new Float64Array(target.length)
  for (const [j, column] of design.entries()) {
    for (let i = 0; i < remainder.length; i++) remainder[i]! += column[i]! * first[j]!
  }
  for (let i = 0; i < remainder.length; i++) remainder[i] = target[i]! - remainder[i]!
  const second = reduced.solve(remainder)
  return first.map((value, j) => value + second[j]!)
}

/** A column times the roots of the weights, over its scale. */
function weighed(column: Column, root: Float64Array | null, scale: number): Float64Array {
  const result = new Float64Array(column.length)
  for (let i = 0; i < result.length; i++) {
    result[i] = (root ? column[i]! * root[i]! : column[i]!) / scale
  }
  return result
}

function checkShapes(columns: readonly Column[], rows: number, weights: Column | undefined): void {
  for (const [j, column] of columns.entries()) {
    if (column.length !== rows) {
      throw new RangeError(`columns[${j}].length = ${column.length}; must be y.length = ${rows}`)
    }
  }
  if (weights && weights.length !== rows) {
    throw new RangeError(`weights.length = ${weights.length}; must be y.length = ${rows}`)
  }
}

function countPositive(weights: Column): number {
  let count = 0
  for (let i = 0; i < weights.length; i++) {
    if (!(weights[i]! >= 0 && weights[i]! < Infinity)) {
      throw new RangeError(`weights[${i}] = ${weights[i]}; must be finite and >= 0`)
    }
    if (weights[i]! > 0) count++
  }
  return count
}

function norm(column: Column, root: Float64Array | null): number {
  let sum = 0
  for (let i = 0; i < column.length; i++) sum += (root ? column[i]! * root[i]! : column[i]!) ** 2
  return Math.sqrt(sum)
}
