import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import {
  adiabaticRiseKelvin,
  allowedMeanRise,
  assumeLeast,
  coldWinding,
  cool,
  foundRise,
  learnCapacity,
  leastByConstantJPerKelvin,
  leastByMassJPerKelvin,
  leastJPerKelvin,
  likelyJPerKelvin,
  mostRiseKelvin,
  riseKelvin,
  warm,
} from '../../src/procedure/heat.ts'
import { expectRelative } from '../support/expect-relative.ts'

describe('rise by resistance', () => {
  test.each([
    {
      name: 'motor winding, 3.42 ohm at 20 degC and 4.22 ohm hot',
      actual: () => riseKelvin(4.22 / 3.42, 20),
      expected: 59.532,
      tolerance: 1e-5,
      source:
        'Kulshreshtha, Ex. 2.18, recomputed with 234.5 (the book has 59.59 with its own constant)',
    },
    {
      name: 'ohmic loss of 504 W at 20 degC is 613 W at 75 degC: the ratio gives the rise back',
      actual: () => riseKelvin(613 / 504, 20),
      expected: 55,
      tolerance: 1e-3,
      source: 'Langsdorf, p. 33 (rounded to whole watts)',
    },
    {
      name: 'no change, no rise',
      actual: () => riseKelvin(1, 35),
      expected: 0,
      tolerance: 1e-12,
      source: 'by definition',
    },
  ])('$name ($source)', ({ actual, expected, tolerance }) => {
    expectRelative(actual(), expected, tolerance)
  })
})

describe('before anything was measured', () => {
  test('half a gram of copper is assumed', () => {
    // 0.5 g × 385 J/(kg K) = 0.19 J/K, rounded up.
    expect(leastJPerKelvin(coldWinding(0))).toBe(0.2)
    expect(adiabaticRiseKelvin(0.4, coldWinding(0))).toBeCloseTo(2, 12)
  })

  test('the mass of the motor promises more copper, never less', () => {
    const heavy = assumeLeast(coldWinding(0), leastByMassJPerKelvin(1))
    expectRelative(leastJPerKelvin(heavy), 19.25, 1e-12)
    expect(leastJPerKelvin(assumeLeast(heavy, leastByMassJPerKelvin(0.001)))).toBe(19.25)
  })

  test('k and R promise a length of wire', () => {
    // k = 0.04 V s/rad needs 1 m of series length at 0.8 T and 50 mm; of 1 ohm: γcρ l²/R.
    expectRelative(leastByConstantJPerKelvin(0.04, 1), 3.45e6 * 1.72e-8, 1e-12)
  })
})

describe('what pulses say of the heat capacity', () => {
  const seen =
    (capacity: number, uncertaintyKelvin: number, noise: () => number) => (energy: number) => ({
      energyJoule: energy,
      riseKelvin: energy / capacity + uncertaintyKelvin * noise(),
      uncertaintyKelvin,
      locked: true,
    })

  test('many pulses together find it', () => {
    const pulse = seen(10, 0.2, seededNormal(seededUniform(1)))
    let heat = coldWinding(0)
    for (let i = 0; i < 60; i++) heat = learnCapacity(heat, pulse(8))
    expectRelative(likelyJPerKelvin(heat)!, 10, 0.1)
    expect(leastJPerKelvin(heat)).toBeLessThan(10)
    expect(leastJPerKelvin(heat)).toBeGreaterThan(8)
  })

  test('the least one is below the true one at least 95 times in 100', () => {
    let held = 0
    for (let seed = 0; seed < 400; seed++) {
      const pulse = seen(3, 0.3, seededNormal(seededUniform(seed)))
      let heat = coldWinding(0)
      for (const energy of [0.2, 0.4, 0.8, 1.6]) heat = learnCapacity(heat, pulse(energy))
      if (leastJPerKelvin(heat) <= 3) held++
    }
    expect(held / 400).toBeGreaterThan(0.95)
  })

  test('a pulse that shows nothing for its noise teaches nothing', () => {
    const heat = learnCapacity(coldWinding(0), {
      energyJoule: 0.1,
      riseKelvin: 0,
      uncertaintyKelvin: 5,
      locked: true,
    })
    expect(leastJPerKelvin(heat)).toBe(0.2)
    expect(likelyJPerKelvin(heat)).toBeNull()
  })
})

describe('the bound on the rise', () => {
  const start = assumeLeast(coldWinding(0), leastByMassJPerKelvin(0.1))
  const capacity = leastJPerKelvin(start)

  test('adds up without any cooling reckoned within seconds', () => {
    const twice = warm(warm(start, 2 * capacity, 0, 0), 3 * capacity, 0, 1)
    expectRelative(mostRiseKelvin(twice), 5, 0.01)
  })

  test('leaves half of the limit to the mean: the hottest coil is twice as warm', () => {
    expect(allowedMeanRise(start, 30)).toBe(15)
    expectRelative(allowedMeanRise(warm(start, 5 * capacity, 0, 0), 30), 10, 1e-9)
    expect(allowedMeanRise(warm(start, 50 * capacity, 0, 0), 30)).toBe(0)
  })

  test('fades over minutes, the last part with the housing', () => {
    const hot = warm(start, 10 * capacity, 0, 0)
    expect(mostRiseKelvin(cool(hot, 60))).toBeGreaterThan(7)
    expect(mostRiseKelvin(cool(hot, 600))).toBeLessThan(1.5)
    expect(mostRiseKelvin(cool(hot, 600))).toBeGreaterThan(0.8)
  })

  test('a resistance measured again lowers it, never raises it', () => {
    const hot = warm(start, 10 * capacity, 0, 0)
    expectRelative(mostRiseKelvin(foundRise(hot, 2, 0.5)), 3, 1e-9)
    expectRelative(mostRiseKelvin(foundRise(hot, 40, 0.5)), 10, 1e-9)
  })
})
