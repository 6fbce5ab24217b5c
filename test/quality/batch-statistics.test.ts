import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { analyseGaugeStudy } from '../../src/quality/gauge-study.ts'
import { andersonDarling } from '../../src/quality/normality.ts'
import {
  oneSidedToleranceFactor,
  twoSidedToleranceFactor,
} from '../../src/quality/tolerance-interval.ts'
import { compareMeans } from '../../src/quality/two-samples.ts'
import { GAUGE_STUDY_READINGS } from '../reference/gauge-study.ts'
import { expectRelative } from '../support/expect-relative.ts'

describe('tolerance factors', () => {
  test.each([
    // Recomputed from the exact integrals, not read from a table.
    [10, 0.95, 0.95, 2.911, 3.3934],
    [30, 0.95, 0.95, 2.2198, 2.5549],
    [50, 0.95, 0.95, 2.065, 2.3816],
    [30, 0.99, 0.95, 3.0639, 3.3546],
    // NIST/SEMATECH e-Handbook 7.2.6.3 prints approximations of these (1.8752, 2.217).
    [43, 0.9, 0.99, 1.8739536, 2.2228252],
  ])('n %d, coverage %d, confidence %d: %d one-sided, %d two-sided', (n, p, gamma, k1, k2) => {
    expectRelative(oneSidedToleranceFactor(n, p, gamma), k1, 2e-5)
    expectRelative(twoSidedToleranceFactor(n, p, gamma), k2, 2e-5)
  })
})

describe('gauge study (AIAG, Measurement Systems Analysis, 4th ed.)', () => {
  const readings = Object.entries(GAUGE_STUDY_READINGS).flatMap(([operator, parts]) =>
    parts.flatMap((trials, part) =>
      trials.map(value => ({ operator, part: String(part + 1), value })),
    ),
  )

  test('interaction pooled: 27.86 % of the total', () => {
    const study = analyseGaugeStudy(readings)
    if (!study.ok) throw new Error(study.error.text)
    expect(study.value.interactionPooled).toBe(true)
    expect(study.value.table.map(line => Number(line.sumOfSquares.toFixed(4)))).toEqual([
      88.3619, 3.1673, 0.359, 2.7589,
    ])
    expectRelative(study.value.table[2]!.f!, 0.434, 1e-3)
    expectRelative(study.value.table[2]!.p!, 0.974, 1e-3)
    expectRelative(study.value.repeatability, 0.199933, 3e-6)
    expectRelative(study.value.reproducibility, 0.226838, 3e-6)
    expectRelative(study.value.parts, 1.042327, 3e-6)
    expectRelative(100 * study.value.gaugeShare, 27.860651, 1e-7)
    expect(study.value.distinctCategories).toBe(4)
  })

  test('interaction kept: 28.75 %', () => {
    const study = analyseGaugeStudy(readings, { pool: false })
    expectRelative(study.ok ? 100 * study.value.gaugeShare : 0, 28.751551, 1e-7)
  })

  test('an unbalanced study is refused with who and what', () => {
    const study = analyseGaugeStudy(readings.slice(1))
    expect(study.ok ? '' : study.error.text).toContain(
      "measured 3 times by 'B', but 2 times elsewhere",
    )
  })
})

test('means of unequal spread (NIST/SEMATECH e-Handbook 1.3.5.3, from the summary values)', () => {
  // Two samples made to have the published count, mean and standard deviation exactly.
  const made = (n: number, mean: number, sd: number) => {
    const raw = Array.from({ length: n }, (_, i) => i - (n - 1) / 2)
    const scale = sd / Math.sqrt(raw.reduce((s, v) => s + v * v, 0) / (n - 1))
    return raw.map(v => mean + scale * v)
  }
  const { t, degreesOfFreedom, p } = compareMeans(
    made(79, 30.48101, 6.10771),
    made(249, 20.14458, 6.4147),
  )
  expectRelative(t, -12.946, 1e-4)
  expectRelative(degreesOfFreedom, 136.87, 1e-4)
  expectRelative(p, 1.5708547843e-25, 0.01)
})

describe('normality', () => {
  test('false alarms at 5 % on seeded normal samples come 5 times in 100', () => {
    const normal = seededNormal(seededUniform(11))
    let alarms = 0
    for (let i = 0; i < 2000; i++) {
      if (andersonDarling(Array.from({ length: 20 }, normal))!.p < 0.05) alarms++
    }
    expect(alarms / 2000).toBeGreaterThan(0.035)
    expect(alarms / 2000).toBeLessThan(0.065)
  })

  test('an exponential sample of 50 is told', () => {
    const uniform = seededUniform(3)
    expect(
      andersonDarling(Array.from({ length: 50 }, () => -Math.log(1 - uniform())))!.p,
    ).toBeLessThan(0.01)
  })

  test('too few values are not judged', () => {
    expect(andersonDarling([1, 2, 3])).toBeNull()
  })
})
