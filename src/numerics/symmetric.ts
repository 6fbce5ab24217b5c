/** Symmetric matrices kept as their lower triangle, row by row: element (j, l ≤ j) at j (j + 1) / 2 + l. */
export type Triangle = Float64Array

export const triangleSize = (n: number) => (n * (n + 1)) / 2

export const triangleAt = (j: number, l: number) =>
  j >= l ? (j * (j + 1)) / 2 + l : (l * (l + 1)) / 2 + j

/**
 * Cholesky factor L of a symmetric matrix, A = L Lᵀ, in the same layout. Null where a pivot falls below
 * `tolerance` times the matrix's own diagonal element: the columns are dependent.
 * Source: G. H. Golub, C. F. Van Loan, Matrix Computations, section 4.2 (from memory).
 */
export function cholesky(matrix: Triangle, n: number, tolerance = 1e-13): Triangle | null {
  const factor = new Float64Array(matrix)
  for (let j = 0; j < n; j++) {
    const row = triangleAt(j, 0)
    for (let l = 0; l <= j; l++) {
      const other = triangleAt(l, 0)
      let sum = factor[row + l]!
      for (let m = 0; m < l; m++) sum -= factor[row + m]! * factor[other + m]!
      if (l < j) factor[row + l] = sum / factor[other + l]!
      else if (sum > tolerance * matrix[row + j]!) factor[row + j] = Math.sqrt(sum)
      else return null
    }
  }
  return factor
}

/** Solves A x = b with the factor of `cholesky`; b is replaced by x. */
export function solveCholesky(factor: Triangle, n: number, b: Float64Array): void {
  for (let j = 0; j < n; j++) {
    const row = triangleAt(j, 0)
    let sum = b[j]!
    for (let l = 0; l < j; l++) sum -= factor[row + l]! * b[l]!
    b[j] = sum / factor[row + j]!
  }
  for (let j = n - 1; j >= 0; j--) {
    let sum = b[j]!
    for (let m = j + 1; m < n; m++) sum -= factor[triangleAt(m, j)]! * b[m]!
    b[j] = sum / factor[triangleAt(j, j)]!
  }
}

/** Inverse from the factor of `cholesky`, as a full matrix. */
export function invertCholesky(factor: Triangle, n: number): number[][] {
  const columns = Array.from({ length: n }, (_, j) => {
    const unit = new Float64Array(n)
    unit[j] = 1
    solveCholesky(factor, n, unit)
    return unit
  })
  return Array.from({ length: n }, (_, j) =>
    Array.from({ length: n }, (_, l) => (columns[l]![j]! + columns[j]![l]!) / 2),
  )
}
