import { describe, expect, test } from 'vitest'
import { usualPeriodSec } from '../../src/signals/usual-period.ts'

const RATE_HZ = 211_000
const rounded = (sec: number, stepSec: number) => Math.round(sec / stepSec) * stepSec
const stamps = (count: number, periodSec: number, stepSec: number) =>
  Float64Array.from({ length: count }, (_, i) => rounded(i * periodSec, stepSec))

describe('the usual time between samples', () => {
  test('is that of the samples, not of their rounded stamps', () => {
    const time = stamps(50_000, 1 / RATE_HZ, 1e-7)
    expect(usualPeriodSec(time) * RATE_HZ).toBeCloseTo(1, 5)
  })

  test('does not count what lies between the samples beside a gap or a missing one', () => {
    const all = stamps(50_000, 1 / RATE_HZ, 1e-7)
    const time = all.filter((_, i) => i % 50 !== 7 && !(i > 20_000 && i < 30_000))
    expect(usualPeriodSec(time) * RATE_HZ).toBeCloseTo(1, 4)
  })

  test('is found from stamps in whole milliseconds', () => {
    const time = stamps(8000, 1.3e-3, 1e-3)
    expect(usualPeriodSec(time)).toBeCloseTo(1.3e-3, 6)
  })

  test('of two samples is their distance', () => {
    expect(usualPeriodSec(Float64Array.of(1, 1.5))).toBe(0.5)
  })
})
