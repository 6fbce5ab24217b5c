import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { PLAIN_TRAITS } from '../../src/records/recording.ts'
import { countsToSi } from '../../src/signals/calibration.ts'
import { fitCalibration } from '../../src/signals/calibration-fit.ts'
import { expectRelative } from '../support/expect-relative.ts'

const point = (reference: number, reading: number, u = 1e-4) => ({
  reference,
  referenceUncertainty: u,
  reading,
  readingUncertainty: u,
})

describe('a straight line against a reference', () => {
  test('two exact points give gain and zero, and the channel then reads the reference', () => {
    const fit = fitCalibration([point(0, 0.02), point(10, 10.12)], 0)
    if (!fit.ok) throw new Error(fit.error)
    expectRelative(fit.value.gain, 1 / 1.01, 1e-9)
    expectRelative(fit.value.zero, 0.02, 1e-7)
    const channel = {
      name: 'v',
      quantity: 'voltage' as const,
      scale: 1e-3,
      offset: 0,
      traits: PLAIN_TRAITS,
    }
    const { factor, offset } = countsToSi(channel, fit.value)
    expectRelative(factor * 10_120 + offset, 10, 1e-9)
  })

  test("the instrument's own gain is not averaged away", () => {
    const many = Array.from({ length: 50 }, (_, i) => point(i / 5, i / 5))
    const fit = fitCalibration(many, 1e-3)
    expectRelative(fit.ok ? fit.value.gainUncertainty : 0, 1e-3, 1e-3)
  })

  test('intervals of gain and zero hold the truth 95 times in 100 (2000 seeded calibrations of six points)', () => {
    const normal = seededNormal(seededUniform(21))
    let held = 0
    for (let i = 0; i < 2000; i++) {
      const points = [0, 2, 4, 6, 8, 10]
        .map(x => point(x + 0.003 * normal(), 0.05 + 0.98 * x + 0.002 * normal(), 0))
        .map(p => ({ ...p, referenceUncertainty: 0.003, readingUncertainty: 0.002 }))
      const fit = fitCalibration(points, 0)
      if (!fit.ok) throw new Error(fit.error)
      if (Math.abs(fit.value.gain * 0.98 - 1) < 1.96 * fit.value.gainUncertainty) held++
    }
    expect(held / 2000).toBeGreaterThan(0.94)
  })

  test.each([
    ['one point', [point(1, 1)], 'needs two or more'],
    ['two that coincide', [point(1, 1), point(1.0001, 1)], 'too close together'],
    ['a dead channel', [point(0, 0), point(10, 0)], 'does not follow the reference'],
  ])('%s is refused', (_, points, message) => {
    const fit = fitCalibration(points, 0)
    expect(fit.ok ? '' : fit.error).toContain(message)
  })
})
