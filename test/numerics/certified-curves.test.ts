import { describe, expect, test } from 'vitest'
import {
  CURVE_OPTIONS,
  type CurveProblem,
  nonlinearLeastSquares,
} from '../../src/numerics/nonlinear-least-squares.ts'
import {
  CERTIFIED_SETS,
  CERTIFIED_SOURCE,
  type CertifiedSet,
  problemOf,
} from '../support/certified-curves.ts'
import { expectRelative } from '../support/expect-relative.ts'

/** The values are certified to eleven digits; ten are met, and the tenth to within one. */
const CERTIFIED = 1e-10

/**
 * Lanczos1 is generated data without noise: its certified residuals, 1e-13 of the data, are half a thousand
 * roundings of a double. The parameters keep ten digits, what is made of the residuals two to three.
 */
const ROUGHER: Readonly<Record<string, { deviations: number; squareSum: number }>> = {
  Lanczos1: { deviations: 5e-3, squareSum: 1e-2 },
}

function fitFrom(set: CertifiedSet, start: readonly number[]) {
  const fit = nonlinearLeastSquares(problemOf(set), start)
  if (!fit.ok) throw new Error(`${set.name} from ${start}: ${fit.error}`)
  return fit.value
}

describe.each(CERTIFIED_SETS)(`$name, $level (${CERTIFIED_SOURCE})`, set => {
  const tolerance = ROUGHER[set.name] ?? { deviations: CERTIFIED, squareSum: CERTIFIED }

  test.each([1, 2])('from its start %d', number => {
    const fit = fitFrom(set, set.starts[number - 1]!)
    expect(fit.degreesOfFreedom).toBe(set.degreesOfFreedom)
    expectRelative(fit.squareSum, set.squareSum, tolerance.squareSum)
    for (const [j, estimate] of set.estimates.entries()) {
      expectRelative(fit.parameters[j]!, estimate, CERTIFIED)
      const deviation = Math.sqrt(fit.residualVariance! * fit.inverseNormal[j]![j]!)
      expectRelative(deviation, set.standardDeviations[j]!, tolerance.deviations)
    }
  })
})

test('all 27 sets with two starts each are here, and none is left out', () => {
  expect(CERTIFIED_SETS.map(({ name }) => name)).toHaveLength(27)
  expect(new Set(CERTIFIED_SETS.map(({ name }) => name)).size).toBe(27)
  for (const { starts, estimates, rows, degreesOfFreedom } of CERTIFIED_SETS) {
    expect(starts.map(start => start.length)).toEqual([estimates.length, estimates.length])
    expect(rows.length - estimates.length).toBe(degreesOfFreedom)
  }
})

describe('what cannot be fitted', () => {
  const data = Float64Array.of(1, 2, 3, 4)
  const twin: CurveProblem = {
    data,
    values: p => data.map((_, i) => (p[0]! + p[1]!) * i),
    slopes: () => [data.map((_, i) => i), data.map((_, i) => i)],
  }

  test('a curve that does not exist at the start', () => {
    const root: CurveProblem = {
      data,
      values: p => data.map(() => Math.sqrt(p[0]!)),
      slopes: p => [data.map(() => 0.5 / Math.sqrt(p[0]!))],
    }
    expect(nonlinearLeastSquares(root, [-1])).toEqual({ ok: false, error: 'non-finite' })
  })

  test('two parameters that do the same', () => {
    expect(nonlinearLeastSquares(twin, [1, 1])).toEqual({ ok: false, error: 'rank-deficient' })
  })

  test('more passes than allowed', () => {
    const set = CERTIFIED_SETS.find(({ name }) => name === 'MGH10')!
    const fit = nonlinearLeastSquares(problemOf(set), set.starts[0]!, {
      ...CURVE_OPTIONS,
      maxPasses: 100,
    })
    expect(fit).toEqual({ ok: false, error: 'pass-limit' })
  })
})

test('a parameter that the data want below its bound stays on it, and the others fit beside it', () => {
  const x = Float64Array.from({ length: 20 }, (_, i) => i / 10)
  const line: CurveProblem = {
    data: x.map(value => 3 * value - 1),
    values: p => x.map(value => p[0]! + p[1]! * value),
    slopes: () => [x.map(() => 1), x],
    lowest: [0, -Infinity],
  }
  const fit = nonlinearLeastSquares(line, [1, 1])
  if (!fit.ok) throw new Error(fit.error)
  // Through the origin: Σxy/Σx² of the exact data.
  const slope = (3 * sumOf(x, v => v * v) - sumOf(x, v => v)) / sumOf(x, v => v * v)
  expect(fit.value.parameters[0]).toBe(0)
  expectRelative(fit.value.parameters[1]!, slope, 1e-12)
})

function sumOf(x: Float64Array, of: (value: number) => number): number {
  return x.reduce((sum, value) => sum + of(value), 0)
}
