import { expect, test } from 'vitest'
import { envelopeOf, mergeBuckets } from '../../src/signals/envelope.ts'

const GAP = Number.NaN

test('sums up each bucket, the last one shorter', () => {
  const envelope = envelopeOf(Float64Array.of(1, 3, 2, -4, 0, 10, 7), 3)
  expect([...envelope.low]).toEqual([1, -4, 7])
  expect([...envelope.high]).toEqual([3, 10, 7])
  expect([...envelope.mean]).toEqual([2, 2, 7])
  expect([...envelope.count]).toEqual([3, 3, 1])
})

test('leaves gaps out, and says where there is nothing else', () => {
  const envelope = envelopeOf(Float64Array.of(1, GAP, 5, GAP, GAP, GAP), 3)
  expect([...envelope.mean]).toEqual([3, GAP])
  expect([...envelope.low]).toEqual([1, GAP])
  expect([...envelope.count]).toEqual([2, 0])
})

test('merges buckets with the weight of their samples, not of their number', () => {
  const merged = mergeBuckets(envelopeOf(Float64Array.of(0, 0, 0, 8, GAP, GAP), 3))
  expect(merged).toEqual({ low: 0, mean: 2, high: 8, count: 4 })
  expect(mergeBuckets(envelopeOf(Float64Array.of(GAP), 3)).mean).toBeNaN()
})

test.each([0, -1, 1.5, GAP])('refuses buckets of %s samples', size => {
  expect(() => envelopeOf(Float64Array.of(1), size)).toThrow(/must be an integer >= 1/)
})
