import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { analyseBatch, compareBatches } from '../../src/quality/batch-analysis.ts'
import type { SampleVerdict } from '../../src/quality/verdict.ts'
import { expectRelative } from '../support/expect-relative.ts'

function batchOf(values: readonly number[], standardUncertainty = 1e-4): SampleVerdict[] {
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
        band: { lower: 0.9, upper: 1.1 },
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
      individuals: null,
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

  test('two batches are compared by their means', () => {
    const [comparison] = compareBatches(
      analyseBatch(batchOf(normalValues(1, 20, 1))),
      analyseBatch(batchOf(normalValues(2, 20, 1.05))),
    )
    expect(comparison!.comparison.p).toBeLessThan(1e-4)
  })
})
