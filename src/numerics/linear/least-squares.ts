import { Matrix, QrDecomposition, SingularValueDecomposition } from 'ml-matrix'
import { failure, type Result, success } from '../../base/result.ts'

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

  const root = Float64Array.from(y, (_, i) => (weights ? Math.sqrt(weights[i]!) : 1))
  const scales = columns.map(column => norm(column, root))
  if (scales.some(scale => !(scale > 0))) return failure('rank-deficient')
  const design = new Matrix(rows, unknowns)
  const target = new Matrix(rows, 1)
  for (let i = 0; i < rows; i++) {
    for (let j = 0; j < unknowns; j++) design.set(i, j, (columns[j]![i]! * root[i]!) / scales[j]!)
    target.set(i, 0, y[i]! * root[i]!)
  }
  const qr = new QrDecomposition(design)
  const triangle = qr.upperTriangularMatrix.subMatrix(0, unknowns - 1, 0, unknowns - 1)
  const svd = new SingularValueDecomposition(triangle)
  const singular = svd.diagonal
  if (!(Math.min(...singular) > RANK_TOLERANCE * Math.max(...singular))) {
    return failure('rank-deficient')
  }
  const scaled = refinedSolution(qr, design, target)
  const coefficients = scales.map((scale, j) => scaled.get(j, 0) / scale)
  const inverse = new QrDecomposition(triangle).solve(Matrix.eye(unknowns))
  const normal = inverse.mmul(inverse.transpose())
  const inverseNormal = scales.map((a, j) => scales.map((b, k) => normal.get(j, k) / (a * b)))

  const residuals = Float64Array.from(y)
  let weightedSquareSum = 0
  for (let i = 0; i < rows; i++) {
    for (let j = 0; j < unknowns; j++) residuals[i]! -= coefficients[j]! * columns[j]![i]!
    weightedSquareSum += (residuals[i]! * root[i]!) ** 2
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
function refinedSolution(qr: QrDecomposition, design: Matrix, target: Matrix): Matrix {
  const first = qr.solve(target)
  const remainder = Matrix.sub(target, design.mmul(first))
  return Matrix.add(first, qr.solve(remainder))
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

function norm(column: Column, root: Float64Array): number {
  let sum = 0
  for (let i = 0; i < root.length; i++) sum += (column[i]! * root[i]!) ** 2
  return Math.sqrt(sum)
}
