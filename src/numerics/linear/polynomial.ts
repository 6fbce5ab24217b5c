import { failure, type Result, success } from '../../base/result.ts'
import { type LinearFault, type LinearFit, linearLeastSquares } from './least-squares.ts'

/**
 * Polynomial y = Σ cⱼ xʲ, j = 0 … degree, by least squares: coefficients in powers of x with their
 * (XᵀWX)⁻¹. Fitted in u = (x − centre)/span, which keeps the powers apart, and expanded afterwards.
 * Centre and span are rounded to few binary digits so that u loses nothing of x.
 */
export function polynomialLeastSquares(
  x: ArrayLike<number>,
  y: ArrayLike<number>,
  degree: number,
  weights?: ArrayLike<number>,
): Result<LinearFit, LinearFault> {
  if (!(Number.isInteger(degree) && degree >= 0)) {
    throw new RangeError(`degree = ${degree}; must be an integer >= 0`)
  }
  if (x.length <= degree) return failure('too-few-points')
  const { centre, span } = roundScale(x)
  const u = Float64Array.from(x, value => (value - centre) / span)
  const powers = Array.from({ length: degree + 1 }, (_, j) => u.map(value => value ** j))
  const fit = linearLeastSquares(powers, y, weights)
  if (!fit.ok) return fit
  const expansion = binomialExpansion(degree, centre, span)
  const coefficients = expansion.map(row => dot(row, fit.value.coefficients))
  const half = expansion.map(row =>
    fit.value.inverseNormal.map((_, k) => dot(row, column(fit.value.inverseNormal, k))),
  )
  const inverseNormal = half.map(row => expansion.map(other => dot(row, other)))
  return success({ ...fit.value, coefficients, inverseNormal })
}

function roundScale(x: ArrayLike<number>): { centre: number; span: number } {
  let low = Infinity
  let high = -Infinity
  for (let i = 0; i < x.length; i++) {
    low = Math.min(low, x[i]!)
    high = Math.max(high, x[i]!)
  }
  if (!(high > low)) return { centre: 0, span: 1 }
  const span = 2 ** Math.round(Math.log2((high - low) / 2))
  return { centre: Math.round((low + high) / 2 / span) * span, span }
}

/** Row j, column k: how much coefficient k in u adds to coefficient j in x. */
function binomialExpansion(degree: number, centre: number, span: number): number[][] {
  return Array.from({ length: degree + 1 }, (_, j) =>
    Array.from({ length: degree + 1 }, (_, k) =>
      k < j ? 0 : (binomial(k, j) * (-centre) ** (k - j)) / span ** k,
    ),
  )
}

function binomial(n: number, k: number): number {
  let value = 1
  for (let i = 1; i <= k; i++) value = (value * (n - k + i)) / i
  return value
}

function dot(a: readonly number[], b: readonly number[]): number {
  return a.reduce((sum, value, i) => sum + value * b[i]!, 0)
}

function column(matrix: readonly (readonly number[])[], k: number): number[] {
  return matrix.map(row => row[k]!)
}
