import { describe, expect, test } from 'vitest'
import {
  advanceTemperatures,
  steadyTemperatures,
  timeConstantsSec,
  type TwoMass,
} from '../../src/thermal/two-mass.ts'
import { expectRelative } from '../support/expect-relative.ts'

const motor: TwoMass = {
  windingToHousingKPerW: 5.5,
  housingToAmbientKPerW: 9,
  windingJPerK: 9,
  housingJPerK: 85,
}
const heat = { windingWatt: 4, housingWatt: 0.5 }
const cold = { windingCelsius: 20, housingCelsius: 20 }

describe('two masses in a row', () => {
  test('end at T_a + ΣP R (steady conduction through resistances in series, any heat-transfer textbook)', () => {
    const end = steadyTemperatures(motor, heat, 20)
    expectRelative(end.housingCelsius, 20 + 9 * 4.5, 1e-14)
    expectRelative(end.windingCelsius, 20 + 9 * 4.5 + 5.5 * 4, 1e-14)
    const late = advanceTemperatures(motor, cold, heat, 20, 1e5)
    expectRelative(late.windingCelsius, end.windingCelsius, 1e-12)
  })

  /** Thermocouple bead of example 5.1, as winding; the gas as a housing that nothing warms. */
  test.each([
    {
      name: 'bead of a thermocouple',
      source:
        'Incropera, DeWitt, Fundamentals of Heat and Mass Transfer, example 5.1 (from memory): 5.2 s to 199 degC',
      expected: 5.2,
    },
  ])('$name ($source)', ({ expected }) => {
    const diameter = 7.06e-4
    const area = Math.PI * diameter ** 2
    const bead: TwoMass = {
      windingToHousingKPerW: 1 / (400 * area),
      housingToAmbientKPerW: 1e-9,
      windingJPerK: (8500 * 400 * Math.PI * diameter ** 3) / 6,
      housingJPerK: 1e6,
    }
    const start = { windingCelsius: 25, housingCelsius: 200 }
    const none = { windingWatt: 0, housingWatt: 0 }
    const at = (sec: number) => advanceTemperatures(bead, start, none, 200, sec).windingCelsius
    expect(at(expected - 0.05)).toBeLessThan(199)
    expect(at(expected)).toBeGreaterThan(198.95)
    // The closed form: θ/θ_i = exp(−t/τ), τ = ρ V c/(h A) = 1.0002 s.
    expectRelative(200 - at(2), 175 * Math.exp(-2 / 1.00016667), 1e-6)
  })

  test('follow the differential equations, integrated in small steps', () => {
    let [w, h] = [20, 20]
    const dt = 0.01
    const slope = (a: number, b: number) => [
      (4 - (a - b) / 5.5) / 9,
      (0.5 + (a - b) / 5.5 - (b - 20) / 9) / 85,
    ]
    for (let n = 0; n < 30_000; n++) {
      const [w1, h1] = slope(w, h) as [number, number]
      const [w2, h2] = slope(w + (dt / 2) * w1, h + (dt / 2) * h1) as [number, number]
      w += dt * w2
      h += dt * h2
    }
    const exact = advanceTemperatures(motor, cold, heat, 20, 300)
    expectRelative(exact.windingCelsius, w, 1e-7)
    expectRelative(exact.housingCelsius, h, 1e-7)
  })

  test('one step is as good as many', () => {
    let at = cold
    for (let n = 0; n < 50; n++) at = advanceTemperatures(motor, at, heat, 20, 7)
    const once = advanceTemperatures(motor, cold, heat, 20, 350)
    expectRelative(at.windingCelsius, once.windingCelsius, 1e-12)
    expectRelative(at.housingCelsius, once.housingCelsius, 1e-12)
  })

  test('time constants come from sum and product of the eigenvalues', () => {
    const { quick, slow } = timeConstantsSec(motor)
    const [a, b, c] = [1 / (5.5 * 9), 1 / (5.5 * 85), 1 / (9 * 85)]
    expectRelative(1 / quick + 1 / slow, a + b + c, 1e-13)
    expectRelative(1 / (quick * slow), a * c, 1e-13)
    expect(slow).toBeGreaterThan(9 * 85)
  })
})
