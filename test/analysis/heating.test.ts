import { describe, expect, test } from 'vitest'
import { analyseHeating } from '../../src/analysis/heating.ts'
import { resistanceRatio } from '../../src/motor/winding-temperature.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { asRun, asTable } from '../support/simulate-motor.ts'

const SEEN = 'answer as printed by the textbook companions of FOSSEE, books not opened'

function riseOf(cold: number, hot: number, startCelsius: number): number {
  const table = asTable(
    1,
    'heating',
    { voltage: Float64Array.of(cold, hot), current: Float64Array.of(1, 1) },
    { windingCelsius: startCelsius },
  )
  const result = analyseHeating(table)
  if (!result.ok) throw new Error(result.error.text)
  return result.value.riseKelvin
}

describe(`copper over temperature: worked examples (${SEEN})`, () => {
  test('Kulshreshtha, Basic Electrical Engineering, ex. 2.18, p. 32: 3.42 ohm at 20 degC, 4.22 ohm hot, rise 59.59 K', () => {
    // The book takes α₀ = 0.00426, i.e. τ = 234.74; with τ = 234.5 the rise is 59.532 K.
    expectRelative(riseOf(3.42, 4.22, 20), 59.5322, 1e-6)
    expectRelative(riseOf(3.42, 4.22, 20), 59.59, 0.0011)
  })

  test('Muthusubramanian, Salivahanan, ex. 1.22, p. 29: 100 ohm at 20, 110 at 45, 124 ohm hot: 80 degC', () => {
    // Their winding has R ∝ τ + T with τ = 230: two readings fix it; copper with 234.5 ends 1.1 K higher.
    const hot = 20 + riseOf(100, 124, 20)
    expect(Math.abs(hot - 80)).toBeLessThan(1.2)
  })

  test('Langsdorf, Theory of Alternating Current Machinery, p. 33: 504 W at 20 degC are 613 W at 75 degC', () => {
    expectRelative(504 * resistanceRatio(75, 20), 612.91945, 1e-8)
  })

  test('Modelica Standard Library, DCPM_withLosses: 0.03864 ohm at 20 degC is 0.05 ohm at 95 degC', () => {
    // α₂₀ = 0.00392 there, i.e. τ = 235.1
    expectRelative(0.03864 * resistanceRatio(95, 20), 0.05, 1e-3)
  })

  test('B. R. Gupta, Network Analysis and Synthesis, ex. 1-3, p. 18: 1.3 ohm at 30, 1.6 ohm hot, rise 61.05 K', () => {
    expectRelative(riseOf(1.3, 1.6, 30), 61.03, 1e-3)
  })

  test('IEC 60028: α₂₀ 0.00393 per kelvin is τ = 234.45 (from memory)', () => {
    expectRelative(resistanceRatio(21, 20) - 1, 0.00393, 1e-3)
  })
})

describe('a recorded heat run', () => {
  const rate = 20
  const timeSec = Float64Array.from({ length: 6000 }, (_, n) => n / rate)
  const ohm = timeSec.map(t => 2 * (1 + 0.2 * -Math.expm1(-t / 60)))
  const record = (fields: { voltage: Float64Array; speed?: Float64Array }) =>
    asRun(
      1,
      'heating',
      {
        sampleCount: timeSec.length,
        timeSec,
        columns: { current: ohm.map(() => 3), ...fields },
        bridge: null,
        edges: [],
        traits: {},
      },
      { ambientCelsius: 25 },
    )

  test('gives the resistance at the start, the rise and the time constant', () => {
    const result = analyseHeating(record({ voltage: ohm.map(r => 3 * r + 0.5) }), {
      brushDrop: { value: 0.5, standardUncertainty: 0, degreesOfFreedom: 10 },
    })
    if (!result.ok) throw new Error(result.error.text)
    expectRelative(result.value.coldOhm, 2, 1e-4)
    expectRelative(result.value.values.windingTimeConstant!.value, 60, 1e-3)
    expectRelative(result.value.riseKelvin, 0.2 * (234.5 + 25), 0.02)
  })

  test('a turning shaft needs the back-EMF constant', () => {
    const speed = ohm.map(() => 100)
    const result = analyseHeating(record({ voltage: ohm.map(r => 3 * r + 4), speed }))
    expect(result.ok ? '' : result.error.text).toMatch(/the shaft turns: add a coast-down/)
  })
})
