import { describe, expect, test } from 'vitest'
import { analyseLockedRotor } from '../../src/analysis/locked-rotor.ts'
import { F9M2_SOURCE, F9M2_STALL, F9M2_TORQUE } from '../reference/f9m2.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { asRun, asTable, simulateMotor, typicalMotor } from '../support/simulate-motor.ts'

const motor = typicalMotor(20, 12)
const NOISE = { volt: 5e-3, amp: 5e-3, radPerSec: 0.3 }
const step = (volt: number, sec: number) => ({ bridge: 'drive' as const, volt, sec })

describe(`hand-read table of a disc-armature motor (${F9M2_SOURCE})`, () => {
  const result = analyseLockedRotor(asTable(1, 'locked-rotor', F9M2_STALL))
  if (!result.ok) throw new Error(result.error.text)
  const { values, stall, warnings } = result.value

  test('the straight line gives R = 0.719 ± 0.018 ohm and V_b = 0.647 ± 0.093 V', () => {
    expect(values.resistance!.value).toBeCloseTo(0.719, 3)
    expect(values.resistance!.standardUncertainty).toBeCloseTo(0.018, 3)
    expect(values.brushDrop!.value).toBeCloseTo(0.647, 3)
    expect(values.brushDrop!.standardUncertainty).toBeCloseTo(0.093, 3)
    expect(values.resistance!.degreesOfFreedom).toBe(12)
  })

  test('lack of fit is said, and the curve that would do better is shown beside', () => {
    expect(stall!.lackOfFit).toBe(true)
    expect(warnings.map(w => w.code)).toContain('lack-of-fit')
    expect(stall!.chosen).toBe(stall!.line)
    const ratio = Math.sqrt(stall!.curve!.squareSum / stall!.line.squareSum)
    expect(ratio).toBeLessThan(0.6) // "the tanh drop halves the residual"
    expect(values.resistanceBesideCurvedDrop!.value).toBeLessThan(values.resistance!.value)
  })

  test('torque over current has a slope of 0.0285 ± 0.0003 N m/A', () => {
    const torque = analyseLockedRotor(asTable(2, 'locked-rotor', F9M2_TORQUE))
    if (!torque.ok) throw new Error(torque.error.text)
    const slope = torque.value.values.torqueConstant!
    expect(slope.value).toBeCloseTo(0.0285, 4)
    expect(slope.standardUncertainty).toBeCloseTo(0.00035, 5)
  })
})

describe('a recording of pulses', () => {
  const pulses = [3, -3, 5, -5, 7, -7].flatMap(volt => [step(volt, 0.03), step(0, 0.02)])
  const record = (noise = NOISE) =>
    analyseLockedRotor(
      asRun(1, 'locked-rotor', simulateMotor(motor, pulses, 20_000, { locked: true, noise })),
    )

  test('gives R, V_b and L within their uncertainties', () => {
    const result = record()
    if (!result.ok) throw new Error(result.error.text)
    const truth = {
      resistance: motor.ohm,
      brushDrop: motor.dropVolt,
      inductance: motor.henry,
    }
    for (const [name, value] of Object.entries(truth)) {
      const found = result.value.values[name]!
      expect(Math.abs(found.value - value)).toBeLessThan(
        3 * found.standardUncertainty + 1e-4 * value,
      )
    }
    expectRelative(result.value.values.inductance!.value, motor.henry, 0.005)
  })

  test('without noise all three are exact but for the simulation', () => {
    const result = record({ volt: 0, amp: 0, radPerSec: 0 })
    if (!result.ok) throw new Error(result.error.text)
    expectRelative(result.value.values.resistance!.value, motor.ohm, 1e-5)
    expectRelative(result.value.values.brushDrop!.value, motor.dropVolt, 1e-4)
    expectRelative(result.value.values.inductance!.value, motor.henry, 1e-3)
  })

  test('lays a fitted current over the measured one', () => {
    const result = record()
    if (!result.ok) throw new Error(result.error.text)
    const fitted = result.value.fitted.current!
    const middle = Math.round(0.02 * 20_000)
    expectRelative(fitted[middle]!, (3 - motor.dropVolt) / motor.ohm, 0.02)
  })
})

test('a brush drop that builds up with the current takes the place of the line where it explains it', () => {
  const amps = [0.1, 0.2, 0.4, 0.8, 1.6, 3.2, 6.4]
  const volts = amps.map(i => 0.8 * i + 0.9 * Math.tanh(i / 0.5))
  const columns = { current: Float64Array.from(amps), voltage: Float64Array.from(volts) }
  const result = analyseLockedRotor(asTable(1, 'locked-rotor', columns))
  if (!result.ok) throw new Error(result.error.text)
  const { chosen, line } = result.value.stall!
  expectRelative(chosen.resistance.value, 0.8, 1e-4)
  expectRelative(chosen.brushDrop!.value, 0.9, 1e-3)
  expectRelative(chosen.kneeAmp, 0.5, 1e-3)
  expect(line.resistance.value).toBeGreaterThan(0.83)
  // Nothing is left to warn of.
  expect(result.value.warnings).toEqual([])
})

test('resistance is followed back to zero heating', () => {
  // The winding warms by a part in 1e3 of its resistance per joule and keeps its heat.
  const rate = 2000
  const time: number[] = []
  const volt: number[] = []
  const amp: number[] = []
  let joule = 0
  for (const level of [2, 4, 6, 8]) {
    for (let n = 0; n < 2000; n++) {
      const ohm = 1.5 * (1 + 1e-3 * joule)
      const on = n < 1600
      time.push(time.length / rate)
      volt.push(on ? level : 0)
      amp.push(on ? (level - 0.4) / ohm : 0)
      joule += volt.at(-1)! * amp.at(-1)! * (1 / rate)
    }
  }
  const result = analyseLockedRotor(
    asRun(1, 'locked-rotor', {
      sampleCount: time.length,
      timeSec: Float64Array.from(time),
      columns: { voltage: Float64Array.from(volt), current: Float64Array.from(amp) },
      bridge: null,
      edges: [],
      traits: {},
    }),
  )
  if (!result.ok) throw new Error(result.error.text)
  expect(joule).toBeGreaterThan(40) // 4 % warmer at the end
  expectRelative(result.value.values.resistance!.value, 1.5, 2e-3)
  expectRelative(result.value.values.brushDrop!.value, 0.4, 0.02)
})

describe('bad input is named', () => {
  const fault = (run: Parameters<typeof analyseLockedRotor>[0]) => {
    const result = analyseLockedRotor(run)
    return result.ok ? 'no fault' : result.error.text
  }

  test('a shaft that turned', () => {
    const run = asRun(1, 'locked-rotor', simulateMotor(motor, [step(4, 0.2)], 5000))
    expect(fault(run)).toMatch(
      /the shaft turned in the locked-rotor test, up to \d+ rad\/s; check the clamp/,
    )
  })

  test('no current channel', () => {
    expect(fault(asTable(1, 'locked-rotor', { voltage: Float64Array.of(1, 2) }))).toBe(
      'a locked-rotor test needs a current channel',
    )
  })

  test('current against the voltage', () => {
    const columns = { voltage: Float64Array.of(1, 2, 3), current: Float64Array.of(-1, -2, -3) }
    expect(fault(asTable(1, 'locked-rotor', columns))).toMatch(/check polarity and assignment/)
  })

  test('one level only is a warning: the resistance holds the drop', () => {
    const columns = { voltage: Float64Array.of(2.1), current: Float64Array.of(1) }
    const result = analyseLockedRotor(asTable(1, 'locked-rotor', columns))
    if (!result.ok) throw new Error(result.error.text)
    expect(result.value.warnings.map(w => w.code)).toEqual(['one-level'])
    expectRelative(result.value.values.resistance!.value, 2.1, 1e-12)
    expect(result.value.values.brushDrop).toBeUndefined()
  })
})
