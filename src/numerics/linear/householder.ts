/**
 * Orthogonal triangularisation of a tall design whose columns stand one by one: A = Q R by Householder's
 * reflections, which are kept in place of what they took away. A column is an array, so that a design of a
 * million rows is as few objects as it has columns.
 * Source: G. H. Golub, C. F. Van Loan, Matrix Computations, section 5.2 (from memory); checked against certified
 * sets in test/numerics/linear.
 */
export class Householder {
  readonly #reflectors: readonly Float64Array[]
  readonly #diagonal: Float64Array

  /** Takes the columns over: they hold the reflectors afterwards. */
  constructor(columns: readonly Float64Array[]) {
    this.#reflectors = columns
    this.#diagonal = new Float64Array(columns.length)
    for (const [k, column] of columns.entries()) {
      let squares = 0
      for (let i = k; i < column.length; i++) squares += column[i]! * column[i]!
      const length = column[k]! < 0 ? -Math.sqrt(squares) : Math.sqrt(squares)
      this.#diagonal[k] = -length
      if (length === 0) continue
      for (let i = k; i < column.length; i++) column[i]! /= length
      column[k]! += 1
      for (let j = k + 1; j < columns.length; j++) reflect(columns[j]!, column, k)
    }
  }

  /** R by rows. */
  triangle(): number[][] {
    return this.#reflectors.map((_, i) =>
      this.#reflectors.map((column, j) => {
        if (j < i) return 0
        return i === j ? this.#diagonal[i]! : column[i]!
      }),
    )
  }

  /** The coefficients that bring the columns closest to `target`; the columns must be independent. */
  solve(target: Float64Array): Float64Array {
    const rotated = target.slice()
    for (const [k, column] of this.#reflectors.entries()) reflect(rotated, column, k)
    const unknowns = this.#reflectors.length
    const solution = rotated.slice(0, unknowns)
    for (let k = unknowns - 1; k >= 0; k--) {
      solution[k]! /= this.#diagonal[k]!
      for (let i = 0; i < k; i++) solution[i]! -= solution[k]! * this.#reflectors[k]![i]!
    }
    return solution
  }
}

/** Mirrors a vector by the reflector that begins at row k. */
function reflect(vector: Float64Array, reflector: Float64Array, k: number): void {
  let product = 0
  for (let i = k; i < vector.length; i++) product += reflector[i]! * vector[i]!
  const share = -product / reflector[k]!
  for (let i = k; i < vector.length; i++) vector[i]! += share * reflector[i]!
}
