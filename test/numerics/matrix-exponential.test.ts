import { describe, expect, test } from 'vitest'
import {
  EXPONENTIAL_SIZE,
  exponentialWithIntegrals,
} from '../../src/numerics/matrix-exponential.ts'
import { expectRelative } from '../support/expect-relative.ts'

const evaluate = (matrix: number[], t: number) => {
  const out = new Float64Array(EXPONENTIAL_SIZE)
  exponentialWithIntegrals(matrix, t, out, true)
  return out
}

describe('exponential of a 2×2 matrix with its integrals', () => {
  const spread = [
    { name: 'well inside one Taylor step', a: -0.3, d: -0.1, t: 0.5 },
    { name: 'after many doublings', a: -2000, d: -1.5, t: 1.2 },
    { name: 'backwards in time', a: -3, d: -0.2, t: -0.7 },
    { name: 'with one state that does not move', a: -40, d: 0, t: 0.1 },
  ]
  test.each(spread)('a diagonal matrix gives scalar exponentials $name', ({ a, d, t }) => {
    const out = evaluate([a, 0, 0, d], t)
    const f = (x: number) => (x === 0 ? t : Math.expm1(x * t) / x)
    const g = (x: number) => (x === 0 ? (t * t) / 2 : (Math.expm1(x * t) / x - t) / x)
    if (Math.exp(a * t) > 1e-200) expectRelative(out[0]!, Math.exp(a * t), 1e-11)
    expectRelative(out[3]!, Math.exp(d * t), 1e-12)
    expectRelative(out[4]!, f(a), 1e-12)
    expectRelative(out[7]!, f(d), 1e-12)
    expectRelative(out[8]!, g(a), 1e-9)
    if (Math.abs(d * t) > 1e-3 || d === 0) expectRelative(out[11]!, g(d), 1e-9)
    expect(out[1]).toBe(0)
  })

  test('a rotation: e^{At} of [[0, −w], [w, 0]] turns by w t', () => {
    const w = 7.3
    const out = evaluate([0, -w, w, 0], 2.1)
    expectRelative(out[0]!, Math.cos(w * 2.1), 1e-12)
    expectRelative(out[2]!, Math.sin(w * 2.1), 1e-12)
    expectRelative(out[4]!, Math.sin(w * 2.1) / w, 1e-12)
    expectRelative(out[6]!, (1 - Math.cos(w * 2.1)) / w, 1e-12)
  })

  test('a defective matrix: e^{At} of [[a, 1], [0, a]] is e^{at} [[1, t], [0, 1]]', () => {
    const out = evaluate([-2, 1, 0, -2], 1.7)
    expectRelative(out[0]!, Math.exp(-3.4), 1e-13)
    expectRelative(out[1]!, 1.7 * Math.exp(-3.4), 1e-13)
  })

  test('derivatives agree with central differences for a motor-like matrix', () => {
    const matrix = [-900, -8, 140, -2.5]
    for (const t of [1e-4, 3e-3, 0.2]) {
      const out = evaluate(matrix, t)
      for (let e = 0; e < 4; e++) {
        const step = 1e-5 * Math.abs(matrix[e]!)
        const up = evaluate(
          matrix.map((x, i) => (i === e ? x + step : x)),
          t,
        )
        const down = evaluate(
          matrix.map((x, i) => (i === e ? x - step : x)),
          t,
        )
        for (const block of [0, 4, 8]) {
          const wanted = [0, 1, 2, 3].map(i => (up[block + i]! - down[block + i]!) / (2 * step))
          const largest = Math.max(...wanted.map(Math.abs))
          for (let i = 0; i < 4; i++) {
            const got = out[12 * (e + 1) + block + i]!
            expect(Math.abs(got - wanted[i]!) / largest).toBeLessThan(1e-6)
          }
        }
      }
    }
  })

  test('an infinite element gives not-a-number instead of a loop without end', () => {
    expect(evaluate([-Infinity, 0, 0, 0], 1)[0]).toBeNaN()
  })
})
