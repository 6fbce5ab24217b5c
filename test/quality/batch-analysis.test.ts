import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { analyseBatch, compareBatches } from '../../src/quality/batch-analysis.ts'
import type { SampleVerdict } from '../../src/quality/verdict.ts'
import { PISTON_RINGS } from '../reference/piston-rings.ts'
import { expectRelative } from '../support/expect-relative.ts'

function batchOf(
  values: readonly number[],
  standardUncertainty = 1e-4,
  band = { lower: 0.9, upper: 1.1 },
): SampleVerdict[] {
  return values.map((value, i) => ({
    motor: `m${i + 1}`,
    serialNumber: String(i + 1),
    verdict: 'pass',
    standsOut: [],
    countsInBatch: true,
    warnings: [],
    quantities: [
      {
        quantity: 'resistance',
        label: 'Winding resistance',
        unit: 'ohm',
        value,
        standardUncertainty,
        band,
        nominal: 1,
        verdict: 'pass',
        conformity: 1,
        uncertaintyRatio: 10,
        remark: '',
      },
    ],
  }))
}

function normalValues(seed: number, count: number, centre = 1): number[] {
  const normal = seededNormal(seededUniform(seed))
  return Array.from({ length: count }, () => centre + 0.02 * normal())
}

describe('a batch', () => {
  test('thirty quiet values have both kinds of index and a tolerance interval', () => {
    const values = normalValues(5, 30)
    const [quantity] = analyseBatch(batchOf(values))
    expect(quantity!.hits).toEqual([])
    expectRelative(quantity!.performance!.both!.value, 0.2 / (6 * quantity!.sigma!), 1e-12)
    expect(quantity!.capability!.both!.value).toBeGreaterThan(1)
    // n = 30, 95 % of the population with 95 % confidence: factor 2.5549, recomputed from the exact integral.
    expectRelative(quantity!.tolerance!.factor, 2.5549, 2e-5)
    expect(quantity!.remarks).toEqual([])
  })

  test('a lot of two has a mean and nothing that means nothing', () => {
    const [quantity] = analyseBatch(batchOf([0.99, 1.01]))
    expect(quantity).toMatchObject({
      mean: 1,
      performance: null,
      capability: null,
      tolerance: null,
      charts: [],
      outlier: null,
    })
    expect(quantity!.remarks[0]).toContain(
      '2 values: indices and tolerance intervals need at least 8',
    )
  })

  test('a step in the level takes the capability away, by the rule that saw it', () => {
    const values = [...normalValues(2, 12, 1.03), ...normalValues(3, 12, 0.97)]
    const [quantity] = analyseBatch(batchOf(values))
    expect(quantity!.capability).toBeNull()
    expect(quantity!.remarks.join()).toContain('not in statistical control')
  })

  test('values that are far from normal have no index', () => {
    const values = Array.from({ length: 24 }, (_, i) => (i % 8 === 0 ? 1.08 : 1 + 0.001 * (i % 5)))
    const [quantity] = analyseBatch(batchOf(values))
    expect(quantity!.performance).toBeNull()
    expect(quantity!.remarks.join()).toContain('not spread normally')
  })

  test('an outlier is named by its place', () => {
    const [quantity] = analyseBatch(batchOf([...normalValues(9, 19), 1.2]))
    expect(quantity!.outlier).toMatchObject({ index: 19, isOutlier: true })
  })

  test('a blunt test is said to widen the spread', () => {
    const [quantity] = analyseBatch(batchOf(normalValues(5, 30), 0.02))
    expect(quantity!.remarks.join()).toContain('uncertainty of the test itself')
  })

  test('every value on its own: individuals, moving range and moving average', () => {
    const values = normalValues(5, 30)
    const [quantity] = analyseBatch(batchOf(values))
    expect(quantity!.charts.map(chart => chart.name)).toEqual([
      'individuals',
      'moving-range',
      'ewma',
    ])
    expectRelative(quantity!.charts[2]!.centre, quantity!.mean, 1e-12)
  })

  test('subgroups: the published charts and indices of the piston rings (Montgomery)', () => {
    const [quantity] = analyseBatch(
      batchOf(PISTON_RINGS.flat(), 1e-5, { lower: 73.95, upper: 74.05 }),
      5,
    )
    const [means, ranges, average] = quantity!.charts
    expect([means!.name, ranges!.name, average!.name]).toEqual(['mean', 'range', 'ewma'])
    expectRelative(means!.upper[0]!, 74.0143, 1e-6)
    expectRelative(ranges!.upper[0]!, 0.04812533, 1e-4)
    expectRelative(quantity!.withinSigma!, 0.009785039, 4e-5)
    expectRelative(quantity!.capability!.both!.value, 1.70322862, 1e-4)
  })

  test('a lasting shift shows in the moving average, and takes the capability away', () => {
    const values = [...normalValues(21, 20, 1), ...normalValues(22, 10, 1.07)]
    const [quantity] = analyseBatch(batchOf(values))
    expect(quantity!.hits.some(hit => hit.chart === 'ewma' && hit.at >= 20)).toBe(true)
    expect(quantity!.capability).toBeNull()
  })

  test('values that fill no subgroup are said; too few subgroups have no chart', () => {
    const [odd] = analyseBatch(batchOf(normalValues(5, 17)), 5)
    expect(odd!.charts[0]!.points).toHaveLength(3)
    expect(odd!.remarks.join()).toContain('the last 2 values fill no subgroup of 5')
    const [few] = analyseBatch(batchOf(normalValues(5, 9)), 5)
    expect(few!.charts).toEqual([])
    expect(few!.remarks[0]).toContain('9 values make 1 full subgroup of 5')
  })

  test('two batches are compared by their means', () => {
    const [comparison] = compareBatches(
      analyseBatch(batchOf(normalValues(1, 20, 1))),
      analyseBatch(batchOf(normalValues(2, 20, 1.05))),
    )
    expect(comparison!.comparison.p).toBeLessThan(1e-4)
  })
})
