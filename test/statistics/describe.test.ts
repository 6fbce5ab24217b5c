import { describe, expect, test } from 'vitest'
import {
  autocorrelation,
  covariance,
  mean,
  standardDeviation,
  variance,
} from '../../src/statistics/describe.ts'
import strd from '../reference/nist-strd-univariate.json' with { type: 'json' }
import { expectRelative } from '../support/expect-relative.ts'

/** NumAcc3 and NumAcc4 have 7 and 8 leading digits in common: that much of the deviation is lost in the data. */
const DEVIATION: Readonly<Record<string, number>> = { NumAcc3: 1e-9, NumAcc4: 1e-8, Mavro: 1e-12 }

describe.each(strd.sets)(`$name (${strd.source})`, set => {
  test('mean', () => expectRelative(mean(set.values), set.mean, 1e-15))
  test('standard deviation', () =>
    expectRelative(
      standardDeviation(set.values),
      set.standardDeviation,
      DEVIATION[set.name] ?? 2e-14,
    ))
  test('lag-1 autocorrelation', () =>
    expectRelative(autocorrelation(set.values, 1), set.lag1, 1e-13))
})

test('nothing has no mean and one value no variance', () => {
  expect(mean([])).toBeNaN()
  expect(variance([3])).toBeNaN()
  expect(covariance([1], [2])).toBeNaN()
})

test('unequal lengths are misuse', () => {
  expect(() => covariance([1, 2], [1])).toThrow(/b.length = 1; must be a.length = 2/)
})
