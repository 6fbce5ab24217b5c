/**
 * The exponential of a 2×2 matrix with its first two integrals over time,
 *   Φ(t) = e^{At},  F(t) = ∫₀ᵗ e^{As} ds,  G(t) = ∫₀ᵗ F(s) ds,
 * and their derivatives along each of the four elements of A.
 *
 * Layout, row-major: Φ at 0, F at 4, G at 8; then for element e = 0 … 3 of A (a₁₁, a₁₂, a₂₁, a₂₂) the
 * derivatives of the three at `12 (e + 1)`. Works for negative t.
 *
 * Method: Taylor series of a step short enough to converge to rounding, then doubling,
 *   Φ(2t) = Φ²,  F(2t) = F + Φ F,  G(2t) = G + t F + Φ G,
 * each with its product rule. Source: N. J. Higham, Functions of Matrices, chapter 10 (scaling and
 * squaring; from memory). Checked against closed forms in test/numerics/matrix-exponential.test.ts.
 */
export const EXPONENTIAL_SIZE = 60

const BLOCK = 12
/** A step of this norm or less needs no doubling; its series ends where terms are lost in rounding. */
const TAYLOR_NORM = 0.5
const TAYLOR_END = 1e-18

const power = new Float64Array(4)
const nextPower = new Float64Array(4)
const powerSlope = new Float64Array(16)
const nextSlope = new Float64Array(16)
const product = new Float64Array(4)
const work = new Float64Array(EXPONENTIAL_SIZE)

export function exponentialWithIntegrals(
  matrix: ArrayLike<number>,
  t: number,
  out: Float64Array,
  withDerivatives: boolean,
): void {
  const norm =
    Math.abs(t) *
    Math.max(
      Math.abs(matrix[0]!) + Math.abs(matrix[1]!),
      Math.abs(matrix[2]!) + Math.abs(matrix[3]!),
    )
  if (!Number.isFinite(norm)) {
    out.fill(Number.NaN, 0, EXPONENTIAL_SIZE)
    return
  }
  const doublings = norm > TAYLOR_NORM ? Math.ceil(Math.log2(norm / TAYLOR_NORM)) : 0
  let step = t / 2 ** doublings
  taylor(matrix, step, norm / 2 ** doublings, out, withDerivatives)
  for (let k = 0; k < doublings; k++) {
    double(out, step, withDerivatives)
    step *= 2
  }
}

function taylor(
  matrix: ArrayLike<number>,
  t: number,
  norm: number,
  out: Float64Array,
  withDerivatives: boolean,
): void {
  out.fill(0, 0, EXPONENTIAL_SIZE)
  power[0] = power[3] = 1
  power[1] = power[2] = 0
  powerSlope.fill(0)
  let factor = 1
  let size = 1
  for (let n = 0; ; n++) {
    const toPhi = factor
    const toF = (factor * t) / (n + 1)
    const toG = (toF * t) / (n + 2)
    for (let i = 0; i < 4; i++) {
      out[i]! += toPhi * power[i]!
      out[4 + i]! += toF * power[i]!
      out[8 + i]! += toG * power[i]!
    }
    if (withDerivatives && n > 0) {
      for (let e = 0; e < 4; e++) {
        const at = BLOCK * (e + 1)
        for (let i = 0; i < 4; i++) {
          const slope = powerSlope[4 * e + i]!
          out[at + i]! += toPhi * slope
          out[at + 4 + i]! += toF * slope
          out[at + 8 + i]! += toG * slope
        }
      }
    }
    size *= norm / (n + 1)
    // The derivative of a power has one factor less: two terms more make up for it.
    if (n > 2 && size <= TAYLOR_END * norm * norm) return
    if (withDerivatives) {
      for (let e = 0; e < 4; e++) {
        multiply(powerSlope, 4 * e, matrix, 0, nextSlope, 4 * e)
        // Pⁿ · ∂A: column `row of e` of P goes to column `column of e`.
        const row = e >> 1
        const column = e & 1
        nextSlope[4 * e + column]! += power[row]!
        nextSlope[4 * e + 2 + column]! += power[2 + row]!
      }
      powerSlope.set(nextSlope)
    }
    multiply(power, 0, matrix, 0, nextPower, 0)
    power.set(nextPower)
    factor *= t / (n + 1)
  }
}

function double(out: Float64Array, t: number, withDerivatives: boolean): void {
  work.set(out.length === EXPONENTIAL_SIZE ? out : out.subarray(0, EXPONENTIAL_SIZE))
  if (withDerivatives) {
    for (let e = 0; e < 4; e++) {
      const at = BLOCK * (e + 1)
      multiply(work, at, work, 0, out, at)
      addProduct(work, 0, work, at, out, at)
      addProduct(work, at, work, 4, out, at + 4)
      addProduct(work, 0, work, at + 4, out, at + 4)
      for (let i = 0; i < 4; i++) out[at + 8 + i]! += t * work[at + 4 + i]!
      addProduct(work, at, work, 8, out, at + 8)
      addProduct(work, 0, work, at + 8, out, at + 8)
    }
  }
  multiply(work, 0, work, 0, out, 0)
  addProduct(work, 0, work, 4, out, 4)
  for (let i = 0; i < 4; i++) out[8 + i]! += t * work[4 + i]!
  addProduct(work, 0, work, 8, out, 8)
}

function multiply(
  a: ArrayLike<number>,
  at: number,
  b: ArrayLike<number>,
  bt: number,
  out: Float64Array,
  ot: number,
): void {
  out[ot] = a[at]! * b[bt]! + a[at + 1]! * b[bt + 2]!
  out[ot + 1] = a[at]! * b[bt + 1]! + a[at + 1]! * b[bt + 3]!
  out[ot + 2] = a[at + 2]! * b[bt]! + a[at + 3]! * b[bt + 2]!
  out[ot + 3] = a[at + 2]! * b[bt + 1]! + a[at + 3]! * b[bt + 3]!
}

function addProduct(
  a: Float64Array,
  at: number,
  b: Float64Array,
  bt: number,
  out: Float64Array,
  ot: number,
): void {
  multiply(a, at, b, bt, product, 0)
  for (let i = 0; i < 4; i++) out[ot + i]! += product[i]!
}
