import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import {
  autocorrelationTime,
  blockMeans,
  correlatedMean,
} from '../../src/statistics/autocorrelation-time.ts'
import { standardDeviation } from '../../src/statistics/describe.ts'
import { nestedModelTest, runsTest } from '../../src/statistics/lack-of-fit.ts'
import { flagOutliers, grubbsCritical, grubbsTest } from '../../src/statistics/outliers.ts'
import {
  median,
  medianAbsoluteDeviation,
  quantileOf,
  whiteNoise,
} from '../../src/statistics/robust.ts'
import { combineEstimates } from '../../src/statistics/weighted-mean.ts'
import { expectRelative } from '../support/expect-relative.ts'

const noise = (length: number, seed: number) => {
  const normal = seededNormal(seededUniform(seed))
  return Float64Array.from({ length }, normal)
}

describe('median', () => {
  test('is the mean of the two middle values for an even count', () => {
    expect(median([9, 1, 2, 4])).toBe(3)
    expect(median([3])).toBe(3)
    expect(median([])).toBeNaN()
    expect(median([1, Number.NaN, 3])).toBe(2)
  })

  test('quantiles run straight between order statistics', () => {
    expect(quantileOf([10, 20, 30], 0.25)).toBe(15)
    expect(() => quantileOf([1], 1.1)).toThrow(/probability = 1.1; must be/)
  })

  test('quantiles are those of the sorted values, whatever their order and however many are alike', () => {
    const random = seededUniform(11)
    for (let n = 1; n < 60; n++) {
      const values = Float64Array.from({ length: n }, () => Math.floor(random() * (n % 7 ? n : 3)))
      const sorted = values.toSorted()
      for (const rows of [values, sorted, sorted.toReversed()]) {
        for (const place of [0, n >> 2, n >> 1, n - 1]) {
          const probability = n === 1 ? 0 : place / (n - 1)
          expectRelative(quantileOf(rows, probability), sorted[place]!, 1e-12)
        }
      }
    }
  })

  test('the scaled median deviation estimates σ and ignores a quarter of nonsense', () => {
    const values = noise(20_000, 3)
    expectRelative(medianAbsoluteDeviation(values), standardDeviation(values), 0.02)
    for (let i = 0; i < 4000; i++) values[i * 5] = 1e6
    expect(medianAbsoluteDeviation(values)).toBeLessThan(1.5)
  })
})

describe('white noise', () => {
  test('is found under a slow course', () => {
    const values = noise(5000, 4).map((v, i) => 0.02 * v + 50 * Math.sin(i / 700))
    expectRelative(whiteNoise(values), 0.02, 0.05)
  })

  test('is nil on a smooth signal', () => {
    expect(whiteNoise(Float64Array.from({ length: 100 }, (_, i) => 3 * i))).toBe(0)
  })
})

describe('correlation times of short series', () => {
  test.each([3, 4, 5, 6, 9, 10, 11, 12, 17, 40, 101])('%i samples', n => {
    const walk = noise(n, n)
    for (let i = 1; i < n; i++) walk[i]! += 0.8 * walk[i - 1]!
    const centre = walk.reduce((sum, value) => sum + value, 0) / n
    const d = walk.map(value => value - centre)
    const products = (lag: number) => d.reduce((sum, v, i) => sum + v * (d[i + lag] ?? 0), 0)
    let time = 1
    for (let lag = 1; lag < n / 2 && (lag === 1 || lag - 1 < 5 * Math.max(time, 1)); lag++) {
      time += (2 * products(lag)) / products(0)
    }
    expectRelative(autocorrelationTime(walk), Math.max(1, time), 1e-10)
  })
})

describe('correlated means', () => {
  const rho = 0.9
  const chain = noise(60_000, 5)
  for (let i = 1; i < chain.length; i++) {
    chain[i] = rho * chain[i - 1]! + Math.sqrt(1 - rho * rho) * chain[i]!
  }

  test('a first-order chain has τ = (1 + ρ)/(1 − ρ)', () => {
    // One stretch of 8000 samples knows τ to 22 % only; the middle of seven is steadier.
    const each = Array.from({ length: 7 }, (_, n) =>
      autocorrelationTime(chain.subarray(8000 * n, 8000 * (n + 1))),
    )
    expectRelative(median(each), 19, 0.2)
    expectRelative(autocorrelationTime(chain), 19, 0.2)
  })

  test('independent samples have a τ of about one, however many', () => {
    expectRelative(autocorrelationTime(noise(8000, 6)), 1, 0.1)
    expectRelative(autocorrelationTime(noise(100_000, 6)), 1, 0.1)
  })

  test('the uncertainty of a mean is what repeats of it show', () => {
    const means = Array.from(blockMeans(chain, 600))
    const claimed = Array.from({ length: 100 }, (_, b) =>
      correlatedMean(chain.subarray(600 * b, 600 * (b + 1))),
    )
    const typical = median(claimed.map(c => c.standardUncertainty))
    expectRelative(typical, standardDeviation(means), 0.2)
  })

  test('one sample has no uncertainty to tell', () => {
    expect(correlatedMean([3]).standardUncertainty).toBeNaN()
  })
})

describe('combining estimates', () => {
  const at = (value: number, standardUncertainty: number) => ({
    value,
    standardUncertainty,
    degreesOfFreedom: Number.POSITIVE_INFINITY,
  })

  test('agreeing values get the inverse-variance mean', () => {
    const mean = combineEstimates([at(10, 1), at(11, 2)])
    expectRelative(mean.value, 10.2, 1e-12)
    expectRelative(mean.standardUncertainty, Math.sqrt(0.8), 1e-12)
    expect(mean.between).toBe(0)
  })

  test('disagreeing values get the between-variance that makes χ² its degrees of freedom', () => {
    const mean = combineEstimates([at(0, 0.1), at(1, 0.1)])
    expectRelative(mean.value, 0.5, 1e-9)
    // (0.5² + 0.5²)/(0.01 + s²) = 1
    expectRelative(mean.between, Math.sqrt(0.49), 1e-9)
    expect(mean.degreesOfFreedom).toBe(1)
  })

  test('exact values that agree stay exact', () => {
    expect(combineEstimates([at(3, 0), at(3, 0)]).value).toBe(3)
  })

  test('nothing to combine is misuse', () => {
    expect(() => combineEstimates([])).toThrow(/must be at least 1/)
  })
})

describe('outliers', () => {
  const tietjenMoore = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]

  test("Grubbs' test (NIST/SEMATECH e-Handbook 1.3.5.17.1: G = 2.4687, one-sided 5 % critical 2.032)", () => {
    const result = grubbsTest(tietjenMoore)!
    expectRelative(result.statistic, 2.468764611212, 1e-12)
    expectRelative(result.critical, 2.126645087195, 1e-10)
    expect(result).toMatchObject({ index: 7, isOutlier: true })
    expectRelative(grubbsCritical(8, 0.05 / 8), 2.03165200155, 1e-10)
  })

  test('robust flags find the same one', () => {
    expect(flagOutliers(tietjenMoore).indexOf(true)).toBe(7)
    expect(flagOutliers(tietjenMoore).filter(Boolean)).toHaveLength(1)
  })
})

describe('lack of fit', () => {
  test('F of nested models is the gain per term over the residual variance', () => {
    const result = nestedModelTest(
      { squareSum: 30, degreesOfFreedom: 12 },
      { squareSum: 10, degreesOfFreedom: 10 },
    )!
    expectRelative(result.f, 10, 1e-12)
    // with two numerator degrees of freedom p = (1 + 2 F/ν)^(−ν/2)
    expectRelative(result.p, 3 ** -5, 1e-10)
  })

  test('models that are not nested are misuse', () => {
    const same = { squareSum: 1, degreesOfFreedom: 3 }
    expect(() => nestedModelTest(same, same)).toThrow(/must be below 3/)
  })

  test('residuals that keep their sign have too few runs', () => {
    const curved = Array.from({ length: 40 }, (_, i) => (i - 20) ** 2 - 130)
    expect(runsTest(curved)!.p).toBeLessThan(1e-6)
    expect(runsTest(noise(200, 8))!.p).toBeGreaterThan(0.01)
    expect(runsTest([1, -1, 1])).toBeNull()
  })
})
