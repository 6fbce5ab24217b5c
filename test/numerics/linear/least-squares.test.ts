import { describe, expect, test } from 'vitest'
import { linearLeastSquares } from '../../../src/numerics/linear/least-squares.ts'
import { polynomialLeastSquares } from '../../../src/numerics/linear/polynomial.ts'
import { expectRelative } from '../../support/expect-relative.ts'

const x = [1, 2, 3, 4, 5]
const ones = x.map(() => 1)

describe('linear least squares', () => {
  test('reports rank-deficient when one column is a multiple of another', () => {
    expect(linearLeastSquares([ones, x, x.map(v => 3 * v)], x)).toEqual({
      ok: false,
      error: 'rank-deficient',
    })
  })

  test('reports rank-deficient when a column is nil', () => {
    expect(linearLeastSquares([x.map(() => 0)], x)).toEqual({ ok: false, error: 'rank-deficient' })
  })

  test('reports too few points when coefficients outnumber rows', () => {
    expect(linearLeastSquares([[1], [2]], [1])).toEqual({ ok: false, error: 'too-few-points' })
  })

  test('has no residual variance without degrees of freedom', () => {
    const fit = linearLeastSquares(
      [
        [1, 1],
        [1, 2],
      ],
      [3, 5],
    )
    expect(fit.ok && fit.value.residualVariance).toBeNull()
    expect(fit.ok && fit.value.degreesOfFreedom).toBe(0)
  })

  test('a weight of 4 counts like four equal rows', () => {
    const weighted = linearLeastSquares(
      [
        [1, 1, 1],
        [0, 1, 2],
      ],
      [1, 2, 5],
      [1, 4, 1],
    )
    const repeated = linearLeastSquares(
      [
        [1, 1, 1, 1, 1, 1],
        [0, 1, 1, 1, 1, 2],
      ],
      [1, 2, 2, 2, 2, 5],
    )
    if (!weighted.ok || !repeated.ok) throw new Error('no fit')
    for (const j of [0, 1]) {
      expectRelative(weighted.value.coefficients[j]!, repeated.value.coefficients[j]!, 1e-14)
      expectRelative(
        weighted.value.inverseNormal[j]![j]!,
        repeated.value.inverseNormal[j]![j]!,
        1e-14,
      )
    }
  })

  test('a weight of 0 leaves a row out and does not count it', () => {
    const fit = linearLeastSquares([ones, x], [1, 2, 3, 4, 900], [1, 1, 1, 1, 0])
    if (!fit.ok) throw new Error(fit.error)
    expectRelative(fit.value.coefficients[1]!, 1, 1e-13)
    expect(fit.value.degreesOfFreedom).toBe(2)
  })

  test('columns of very different size do not disturb each other', () => {
    const tiny = x.map(v => 1e-9 * v * v)
    const fit = linearLeastSquares(
      [ones, x.map(v => 1e9 * v), tiny],
      x.map((v, i) => 2 + 3e9 * v + 5 * tiny[i]!),
    )
    if (!fit.ok) throw new Error(fit.error)
    expectRelative(fit.value.coefficients[1]!, 3, 1e-12)
  })

  test('columns of another length are misuse', () => {
    expect(() => linearLeastSquares([[1, 2]], [1])).toThrow(/columns\[0\].length = 2; must be/)
  })

  test('a negative weight is misuse', () => {
    expect(() => linearLeastSquares([[1, 2]], [1, 2], [1, -1])).toThrow(/weights\[1\] = -1/)
  })
})

describe('polynomial', () => {
  test('a parabola through its own points is exact', () => {
    const fit = polynomialLeastSquares(
      [100, 101, 102, 103],
      [1, 4, 9, 16].map(v => v),
      2,
    )
    if (!fit.ok) throw new Error(fit.error)
    // (x − 99)² = 9801 − 198 x + x²
    for (const [j, value] of [9801, -198, 1].entries()) {
      expectRelative(fit.value.coefficients[j]!, value, 1e-11)
    }
  })

  test('a degree that is no count is misuse', () => {
    expect(() => polynomialLeastSquares([1], [1], 1.5)).toThrow(/degree = 1.5; must be/)
  })

  test('as many coefficients as points are allowed, more are not', () => {
    expect(polynomialLeastSquares([1, 2], [1, 2], 2)).toEqual({
      ok: false,
      error: 'too-few-points',
    })
  })
})
