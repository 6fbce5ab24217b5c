import { describe, expect, test } from 'vitest'
import { evenPulses } from '../../src/signals/even-pulses.ts'

const SAMPLES = 21.1
const BUS_VOLT = 24

/** Means over one period each of pulses read by samples: how many fall within each pulse. */
function readPulses(dutyOf: (period: number) => number, periods: number): Float64Array {
  return Float64Array.from({ length: periods }, (_, n) => {
    const start = n * SAMPLES
    const end = start + dutyOf(n) * SAMPLES
    return ((Math.ceil(end) - Math.ceil(start)) * BUS_VOLT) / SAMPLES
  })
}

const even = (values: Float64Array, hasPulses = Array.from(values, () => true)) =>
  evenPulses({ values, hasPulses, together: 10, stepVolt: BUS_VOLT / SAMPLES })

describe('means of pulses that begin and end between samples', () => {
  // The mean of a switched voltage is its duty times what it switches: common practice, no source.
  test('keep a tenth of a sample of what the edges leave open, where ten periods are one pattern', () => {
    const raw = readPulses(() => 0.12, 60)
    const worst = (values: Float64Array) =>
      Math.max(...values.map(volt => Math.abs(volt - 0.12 * BUS_VOLT)))
    expect(worst(raw)).toBeGreaterThan(0.4)
    expect(worst(even(raw))).toBeLessThan(BUS_VOLT / SAMPLES / 10)
  })

  test('a step of the duty stays where it is', () => {
    const evened = even(readPulses(n => (n < 30 ? 0.12 : 0.4), 60))
    expect(evened[29]! / BUS_VOLT).toBeCloseTo(0.12, 1)
    expect(evened[30]! / BUS_VOLT).toBeCloseTo(0.4, 1)
  })

  test('a slow ramp is followed', () => {
    const duty = (n: number) => 0.2 + 0.002 * n
    const evened = even(readPulses(duty, 100))
    for (let n = 10; n < 90; n++) {
      expect(Math.abs(evened[n]! / BUS_VOLT - duty(n))).toBeLessThan(0.02)
    }
  })

  test('what has no pulses, and a single one that is like no other, stay as they are', () => {
    const values = readPulses(() => 0.12, 40)
    values[20] = 9
    values[5] = 0.3
    const evened = even(
      values,
      Array.from(values, (_, n) => n !== 5),
    )
    expect(evened[20]).toBe(9)
    expect(evened[5]).toBe(0.3)
  })
})
