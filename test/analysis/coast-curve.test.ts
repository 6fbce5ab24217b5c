import { describe, expect, test } from 'vitest'
import { coastSpeed } from '../../src/analysis/coast-curve.ts'
import { expectRelative } from '../support/expect-relative.ts'

/** dω/dt = −(a + b ω + c ω²) by fourth-order Runge–Kutta in fine steps. */
function integrated(t: number, start: number, a: number, b: number, c: number): number {
  const f = (w: number) => -(a + b * w + c * w * w)
  const h = t / 20_000
  let w = start
  for (let n = 0; n < 20_000; n++) {
    const k1 = f(w)
    const k2 = f(w + (h / 2) * k1)
    const k3 = f(w + (h / 2) * k2)
    const k4 = f(w + h * k3)
    w += (h / 6) * (k1 + 2 * k2 + 2 * k3 + k4)
  }
  return w
}

describe('closed form of a coast', () => {
  const cases = [
    { name: 'dry, viscous and windage, few windage', a: 50, b: 1, c: 1e-3 },
    { name: 'windage wins (negative discriminant reversed)', a: 50, b: 0.1, c: 5e-3 },
    { name: 'double root', a: 25, b: 1, c: 0.01 },
    { name: 'dry alone', a: 120, b: 0, c: 0 },
    { name: 'viscous alone', a: 0, b: 2, c: 0 },
    { name: 'windage alone', a: 0, b: 0, c: 0.02 },
  ]
  test.each(cases)('$name agrees with numerical integration', ({ a, b, c }) => {
    for (const t of [0.01, 0.3, 1]) {
      expectRelative(coastSpeed(t, 300, a, b, c), integrated(t, 300, a, b, c), 1e-10)
    }
  })

  test('the special cases are the elementary ones', () => {
    expectRelative(coastSpeed(0.5, 100, 40, 0, 0), 80, 1e-14)
    expectRelative(coastSpeed(0.5, 100, 0, 2, 0), 100 * Math.exp(-1), 1e-13)
    expectRelative(coastSpeed(0.5, 100, 0, 0, 0.01), 100 / 1.5, 1e-13)
  })

  test('a shaft that has stopped stays', () => {
    expect(coastSpeed(10, 100, 40, 0, 0)).toBe(0)
    expect(coastSpeed(10, 100, 40, 0.1, 0.01)).toBe(0)
  })
})
