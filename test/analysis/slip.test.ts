import { describe, expect, test } from 'vitest'
import { analyseLockedRotor } from '../../src/analysis/locked-rotor.ts'
import type { Recording } from '../../src/records/recording.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { asRun, type IdealStep, simulateMotor, typicalMotor } from '../support/simulate-motor.ts'

const motor = typicalMotor(20, 12)
const noise = { volt: 6e-3, amp: 4e-3, radPerSec: 0.3 }
const pulses = (volts: readonly number[], sec: number): IdealStep[] => [
  { bridge: 'drive', volt: 0, sec: 0.02 },
  ...volts.flatMap((volt): IdealStep[] => [
    { bridge: 'drive', volt, sec },
    { bridge: 'drive', volt: 0, sec: 0.1 },
  ]),
]
const record = (volts: readonly number[], locked: boolean, seed: number) =>
  simulateMotor(motor, pulses(volts, 0.15), 5000, { noise, locked, seed, without: ['speed'] })

/** Two recordings, one after the other. */
function joined(a: Recording, b: Recording): Recording {
  const both = (x: Float64Array, y: Float64Array) => Float64Array.from([...x, ...y])
  const sampleCount = a.sampleCount + b.sampleCount
  return {
    ...a,
    sampleCount,
    timeSec: Float64Array.from({ length: sampleCount }, (_, n) => n / 5000),
    columns: {
      voltage: both(a.columns.voltage!, b.columns.voltage!),
      current: both(a.columns.current!, b.columns.current!),
    },
  }
}

describe('a locked rotor without a speed channel', () => {
  test('a pulse in which it gives way is left out and said', () => {
    const recording = joined(record([2, 4, -2, -4], true, 1), record([6], false, 2))
    const result = analyseLockedRotor(asRun(1, 'locked-rotor', recording))
    if (!result.ok) throw new Error(result.error.text)
    expect(result.value.warnings.map(({ code }) => code)).toContain('shaft-slipped')
    expectRelative(result.value.stall!.chosen.resistance.value, motor.ohm, 0.02)
    expectRelative(result.value.inductance!.value, motor.henry, 0.03)
  })

  test('one that never held is refused', () => {
    const result = analyseLockedRotor(asRun(1, 'locked-rotor', record([4, 6, -6], false, 3)))
    expect(result.ok ? 'no fault' : result.error.text).toMatch(/shaft slipped.*check the clamp/)
  })

  test('one that holds is believed', () => {
    const result = analyseLockedRotor(asRun(1, 'locked-rotor', record([2, 4, 6, -6], true, 4)))
    expect(result.ok && result.value.warnings.map(({ code }) => code)).toEqual([])
  })

  // Copper: R(T)/R(T₀) = (234.5 + T)/(234.5 + T₀), from 20 to 60 °C 1.157.
  test.each([0.15, 5])('a winding that warms by 40 K within %d s is no slip', sec => {
    const count = 3000
    const on = 300
    const random = record([2], true, 5).columns.current!
    const volt = (n: number) => (n < on ? 0 : 6)
    const ohm = (n: number) => motor.ohm * (1 + (0.157 * Math.max(0, n - on)) / (count - on))
    const columns = {
      voltage: Float64Array.from({ length: count }, (_, n) => volt(n) + random[n % 90]! * 0.1),
      current: Float64Array.from({ length: count }, (_, n) => volt(n) / ohm(n) + random[n % 97]!),
    }
    const timeSec = Float64Array.from({ length: count }, (_, n) => (n * sec) / count)
    const base = record([2], true, 6)
    const run = asRun(1, 'locked-rotor', { ...base, sampleCount: count, timeSec, columns })
    const result = analyseLockedRotor(run)
    if (!result.ok) throw new Error(result.error.text)
    expect(result.value.warnings.map(({ code }) => code)).not.toContain('shaft-slipped')
  })
})
