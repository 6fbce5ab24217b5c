import { describe, expect, test } from 'vitest'
import { covariance, mean } from '../../src/statistics/describe.ts'
import { coverageFactor } from '../../src/statistics/distributions.ts'
import {
  effectiveDegreesOfFreedom,
  propagate,
  propagatedCovariance,
} from '../../src/statistics/propagation.ts'
import { expectRelative } from '../support/expect-relative.ts'

describe('simultaneous resistance and reactance (JCGM 100:2008, H.2)', () => {
  const series = [
    [5.007, 4.994, 5.005, 4.99, 4.999],
    [19.663e-3, 19.639e-3, 19.64e-3, 19.685e-3, 19.678e-3],
    [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
  ]
  const x = series.map(mean)
  const cov = series.map(a => series.map(b => covariance(a, b) / a.length))
  const R = ([v, i, phi]: readonly number[]) => (v! * Math.cos(phi!)) / i!
  const X = ([v, i, phi]: readonly number[]) => (v! * Math.sin(phi!)) / i!
  const Z = ([v, i]: readonly number[]) => v! / i!
  const [r, xx, z] = [R, X, Z].map(f => propagate(f, x, cov))
  const correlation = (f: typeof R, g: typeof R) =>
    propagatedCovariance(f, g, x, cov) /
    Math.sqrt(propagatedCovariance(f, f, x, cov) * propagatedCovariance(g, g, x, cov))

  const published = [
    { name: 'R', got: r!.value, want: 127.732, digit: 1e-3 },
    { name: 'u(R)', got: r!.standardUncertainty, want: 0.071, digit: 1e-3 },
    { name: 'X', got: xx!.value, want: 219.847, digit: 1.1e-3 },
    { name: 'u(X)', got: xx!.standardUncertainty, want: 0.295, digit: 1.2e-3 },
    { name: 'Z', got: z!.value, want: 254.26, digit: 1e-3 },
    { name: 'u(Z)', got: z!.standardUncertainty, want: 0.236, digit: 1e-3 },
    { name: 'r(R, X)', got: correlation(R, X), want: -0.588, digit: 1e-3 },
    { name: 'r(R, Z)', got: correlation(R, Z), want: -0.485, digit: 1e-3 },
    { name: 'r(X, Z)', got: correlation(X, Z), want: 0.993, digit: 1e-3 },
  ]
  test.each(published)('$name is $want as printed', ({ got, want, digit }) =>
    expect(Math.abs(got - want)).toBeLessThanOrEqual(digit / 2),
  )

  test('recomputed in high precision', () => {
    expectRelative(r!.standardUncertainty, 0.0710714, 2e-6)
    expectRelative(xx!.standardUncertainty, 0.29558168, 2e-7)
    expectRelative(correlation(X, Z), 0.99251165, 1e-7)
  })
})

test('effective degrees of freedom of the end gauge (JCGM 100:2008, H.1: 16.7)', () => {
  const parts = [
    [25, 18],
    [5.8, 24],
    [3.9, 5],
    [6.7, 8],
    [2.9, 50],
    [16.6, 2],
  ].map(([u, freedom]) => ({ standardUncertainty: u!, degreesOfFreedom: freedom! }))
  const freedom = effectiveDegreesOfFreedom(parts)
  expect(Math.abs(freedom - 16.75)).toBeLessThan(0.05)
  expect(Math.trunc(freedom)).toBe(16)
  expect(Math.abs(coverageFactor(16, 0.99) - 2.92)).toBeLessThan(0.005)
})

test('product of three inputs (JCGM 100:2008, G.4.2: 19.0 and 2.09, from memory)', () => {
  const parts = [
    [0.25, 9],
    [0.57, 4],
    [0.82, 14],
  ].map(([u, freedom]) => ({ standardUncertainty: u!, degreesOfFreedom: freedom! }))
  expectRelative(effectiveDegreesOfFreedom(parts), 18.9987423143, 1e-10)
  expectRelative(coverageFactor(19) * 1.0294658809, 2.154696852, 1e-8)
})

test('thermal expansion coefficient (NIST TN 1900, E13: 1.7266e-5, u 1.76e-6)', () => {
  const inputs = [
    [1.4999, 0.0001],
    [288.15, 0.02],
    [1.5021, 0.0002],
    [373.1, 0.05],
  ] as const
  const cov = inputs.map(([, u], j) => inputs.map((_, k) => (j === k ? u * u : 0)))
  const alpha = propagate(
    ([l0, t0, l1, t1]) => (l1! - l0!) / (l0! * (t1! - t0!)),
    inputs.map(([value]) => value),
    cov,
  )
  expect(Math.abs(alpha.value - 1.7266e-5)).toBeLessThan(0.5e-9)
  expect(Math.abs(alpha.standardUncertainty - 1.76e-6)).toBeLessThan(0.5e-8)
})

test('an exactly known input contributes nothing', () => {
  const result = propagate(
    ([a, b]) => a! * b!,
    [2, 3],
    [
      [0, 0],
      [0, 0.01],
    ],
  )
  expectRelative(result.standardUncertainty, 0.2, 1e-9)
  expect(result.contributions[0]).toBe(0)
})
