import { describe, expect, test } from 'vitest'
import { spreadIndices } from '../../src/quality/capability.ts'
import {
  ewmaChart,
  individualsCharts,
  meanAndRangeCharts,
} from '../../src/quality/control-chart.ts'
import { rangeConstants } from '../../src/quality/range-constants.ts'
import { runRuleHits } from '../../src/quality/run-rules.ts'
import { PISTON_RINGS } from '../reference/piston-rings.ts'
import { expectRelative } from '../support/expect-relative.ts'

test.each([
  // Recomputed by independent integration; agrees to four decimals with the table in the R package SixSigma.
  [2, 1.12838, 0.8525, 0.79788],
  [3, 1.69257, 0.88837, 0.88623],
  [5, 2.32593, 0.86408, 0.93999],
  [10, 3.07751, 0.79705, 0.97266],
])('constants for %d: d2 %d, d3 %d, c4 %d', (size, d2, d3, c4) => {
  const constants = rangeConstants(size)
  expectRelative(constants.d2, d2, 5e-6)
  expectRelative(constants.d3, d3, 1e-5)
  expectRelative(constants.c4, c4, 1e-5)
})

describe('published charts', () => {
  test('individuals and moving range (NIST/SEMATECH e-Handbook 6.3.2.2)', () => {
    const values = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
    const { individuals, movingRange } = individualsCharts(values)
    expectRelative(individuals.centre, 50.81, 1e-12)
    expectRelative(movingRange.centre, 1.8778, 2e-5)
    // The handbook rounds d2 to 1.128 and D4 to 3.267.
    expectRelative(individuals.upper[0]!, 55.8041, 4e-5)
    expectRelative(individuals.lower[0]!, 45.8159, 4e-5)
    expectRelative(movingRange.upper[0]!, 6.1349, 2e-4)
  })

  test('moving average (NIST/SEMATECH e-Handbook 6.3.2.4)', () => {
    const values = [
      52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8,
      51.2, 52.6, 52.4, 53.6, 52.1,
    ]
    const chart = ewmaChart(values, 50, 2.0539)
    expectRelative(chart.upper[0]!, 52.5884, 2e-6)
    expectRelative(chart.lower[0]!, 47.4116, 2e-6)
    expect(chart.points.map(p => Number(p.toFixed(2))).slice(-3)).toEqual([51.23, 51.94, 51.99])
    expect(runRuleHits(chart)).toEqual([])
  })

  test('mean and range, indices (Montgomery, piston rings)', () => {
    const { mean, range, withinSigma } = meanAndRangeCharts(PISTON_RINGS)
    expectRelative(mean.centre, 74.00118, 1e-7)
    expectRelative(range.centre, 0.02276, 1e-6)
    // The package rounds d2 to 2.326.
    expectRelative(withinSigma, 0.009785039, 4e-5)
    expectRelative(mean.lower[0]!, 73.98805, 1e-7)
    expectRelative(mean.upper[0]!, 74.0143, 1e-6)
    expectRelative(range.upper[0]!, 0.04812533, 1e-4)
    const indices = spreadIndices(mean.centre, withinSigma, 125, { lower: 73.95, upper: 74.05 })
    expectRelative(indices.both!.value, 1.70322862, 1e-4)
    expectRelative(indices.worst.value, 1.66316868, 1e-4)
    const rounded = (index: { lower95: number; upper95: number }) =>
      [index.lower95, index.upper95].map(v => Number(v.toFixed(2)))
    expect(rounded(indices.both!)).toEqual([1.49, 1.91])
    expect(rounded(indices.worst)).toEqual([1.45, 1.88])
  })

  test('capability example (NIST/SEMATECH e-Handbook 6.1.6)', () => {
    const indices = spreadIndices(16, 2, 50, { lower: 8, upper: 20 })
    expectRelative(indices.both!.value, 1, 1e-12)
    expectRelative(indices.upper!.value, 0.6667, 1e-4)
    expectRelative(indices.lower!.value, 1.3333, 1e-4)
    expectRelative(indices.offCentre!, 0.3333, 2e-4)
  })
})

describe('run rules', () => {
  const chart = (points: number[]) => ({
    name: 'individuals' as const,
    points,
    centre: 0,
    sigma: 1,
    lower: points.map(() => -3),
    upper: points.map(() => 3),
  })
  test.each([
    ['beyond-limit', [0, 3.1], 1],
    ['nine-on-one-side', [0.1, 0.2, 0.1, 0.2, 0.1, 0.2, 0.1, 0.2, 0.1], 8],
    ['six-in-a-trend', [-0.5, -0.3, -0.1, 0.1, 0.3, 0.5], 5],
    ['fourteen-alternating', [1, -1, 1, -1, 1, -1, 1, -1, 1, -1, 1, -1, 1, -1].map(x => x / 2), 13],
    ['two-of-three-outer', [2.1, 0, 2.2], 2],
    ['four-of-five-outer', [1.1, 1.2, -0.1, 1.3, 1.4], 4],
  ] as const)('%s', (rule, points, at) => {
    expect(runRuleHits(chart([...points]))).toMatchObject([{ rule, at }])
  })

  test('a pattern that is one point short says nothing', () => {
    expect(runRuleHits(chart([0.1, 0.2, 0.1, 0.2, 0.1, 0.2, 0.1, 0.2]))).toEqual([])
    expect(runRuleHits(chart([-0.3, -0.1, 0.1, 0.3, 0.5]))).toEqual([])
  })
})
