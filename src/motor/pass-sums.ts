import { triangleSize } from '../numerics/symmetric.ts'

/** Sums over a run, of whitened innovations z with Jacobian Z = ∂z/∂θ. */
export interface PassSums {
  /** Σ z² (clipped: 2 ρ(z)). */
  cost: number
  readings: number
  clipped: number
  /** Σ Zᵀ z, and the lower triangle of Σ Zᵀ Z, row by row. */
  readonly gradient: Float64Array
  readonly information: Float64Array
}

/** @param coordinates how many move */
export function emptySums(coordinates: number): PassSums {
  return {
    cost: 0,
    readings: 0,
    clipped: 0,
    gradient: new Float64Array(coordinates),
    information: new Float64Array(triangleSize(coordinates)),
  }
}

export function clearSums(sums: PassSums): void {
  sums.cost = 0
  sums.readings = 0
  sums.clipped = 0
  sums.gradient.fill(0)
  sums.information.fill(0)
}

/** Adds what a part of the run says of the coordinates. */
export function addSlopeSums(total: PassSums, part: PassSums): void {
  for (let j = 0; j < total.gradient.length; j++) total.gradient[j]! += part.gradient[j]!
  for (let t = 0; t < total.information.length; t++) total.information[t]! += part.information[t]!
}
