import { describe, expect, test } from 'vitest'
import { advanceHeat, copperFactor } from '../../src/practice-rig/heat.ts'
import { expectRelative } from '../support/expect-relative.ts'

/** Temperature at which copper has `ohm`, from `ohmKnown` at `celsiusKnown`, by bisection. */
function temperatureOf(ohm: number, ohmKnown: number, celsiusKnown: number): number {
  let low = -100
  let high = 400
  for (let n = 0; n < 60; n++) {
    const middle = (low + high) / 2
    if ((ohmKnown * copperFactor(middle)) / copperFactor(celsiusKnown) < ohm) low = middle
    else high = middle
  }
  return low
}

const companion = 'as printed by the FOSSEE textbook companion notebook, book not opened'
const checks = [
  {
    name: 'rise of a field winding from 3.42 to 4.22 ohm',
    actual: () => temperatureOf(4.22, 3.42, 20) - 20,
    expected: 59.59,
    // The book takes alpha0 = 0.00426 (234.74); 234.5 gives 59.53.
    tolerance: 2e-3,
    source: `Kulshreshtha, Basic Electrical Engineering, Example 2.18, p. 32, ${companion}`,
  },
  {
    name: '126 ohm at 20 degC, cooled to -35 degC',
    actual: () => (126 * copperFactor(-35)) / copperFactor(20),
    expected: 98.8,
    tolerance: 1e-3,
    source: `Kulshreshtha, Example 2.17, p. 31, ${companion}`,
  },
  {
    name: 'rise from 1.3 ohm at 30 degC to 1.6 ohm',
    actual: () => temperatureOf(1.6, 1.3, 30) - 30,
    expected: 61.05,
    tolerance: 1e-3,
    source: `Gupta, Network Analysis and Synthesis, Example 1-3, p. 18 (alpha20 = 0.00393), ${companion}`,
  },
  {
    name: 'direct-current copper loss 504 W at 20 degC, brought to 75 degC',
    actual: () => (504 * copperFactor(75)) / copperFactor(20),
    expected: 612.91945,
    tolerance: 1e-7,
    source: `Langsdorf, Theory of Alternating Current Machinery, p. 33 (613 W printed), recomputed with 234.5, ${companion}`,
  },
]

describe('resistance of copper', () => {
  test.each(checks)('$name ($source)', check => {
    expectRelative(check.actual(), check.expected, check.tolerance)
  })
})

describe('two masses', () => {
  const thermal = {
    windingJPerK: 10,
    housingJPerK: 100,
    windingToHousingKPerW: 3,
    housingToAmbientKPerW: 5,
  }
  const heated = (watt: number, seconds: number, step: number) => {
    const heat = { windingCelsius: 20, housingCelsius: 20 }
    for (let n = 0; n < seconds / step; n++) advanceHeat(heat, thermal, 20, watt * step, 0, step)
    return heat
  }

  test('heat adiabatically at first: 4 W into 10 J/K is 0.4 K/s', () => {
    expectRelative(heated(4, 0.1, 1e-3).windingCelsius - 20, 0.04, 5e-3)
  })

  test('settle at power times thermal resistance: 4 W on 3 + 5 K/W and on 5 K/W', () => {
    const heat = heated(4, 6000, 0.2)
    expectRelative(heat.windingCelsius, 52, 1e-3)
    expectRelative(heat.housingCelsius, 40, 1e-3)
  })

  test('cool to ambient without power', () => {
    const heat = { windingCelsius: 90, housingCelsius: 60 }
    for (let n = 0; n < 60_000; n++) advanceHeat(heat, thermal, 20, 0, 0, 0.1)
    expect(heat.windingCelsius).toBeCloseTo(20, 2)
    expect(heat.housingCelsius).toBeCloseTo(20, 2)
  })
})
