import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { plainMean } from '../../src/signals/steady-levels.ts'
import { pulseVoltage } from '../../src/ripple/pulse-voltage.ts'

interface Pulses {
  readonly pulseHz: number
  readonly rateHz: number
  readonly duty: number
  readonly count: number
}

const ON_VOLT = 24
const OFF_VOLT = -0.8

/** Readings at single moments; the phase of the first pulse and the noise are seeded. */
function readPulses({ pulseHz, rateHz, duty, count }: Pulses): Float64Array {
  const uniform = seededUniform(count)
  const normal = seededNormal(uniform)
  const first = uniform()
  return Float64Array.from({ length: count }, (_, i) => {
    const phase = ((i * pulseHz) / rateHz + first) % 1
    return (phase < duty ? ON_VOLT : OFF_VOLT) + 0.05 * normal()
  })
}

const switchingOf = ({ pulseHz, rateHz }: Pulses) => ({
  frequency: pulseHz,
  sampleRate: rateHz,
  harmonics: null,
})

/** Mean of a rectangular wave: duty D at one level, 1 − D at the other (its definition). */
const meanOf = ({ duty }: Pulses) => duty * ON_VOLT + (1 - duty) * OFF_VOLT

describe('mean voltage of pulses read at single moments', () => {
  test.each<Pulses>([
    { pulseHz: 2325.23, rateHz: 200_000, duty: 0.43, count: 40_000 },
    { pulseHz: 2405.229, rateHz: 10_000, duty: 0.62, count: 1_000 },
    { pulseHz: 15_434.83, rateHz: 5_000, duty: 0.513, count: 11_000 },
    { pulseHz: 19_400.2, rateHz: 50_000, duty: 0.12, count: 100_000 },
    { pulseHz: 2_794.5, rateHz: 20_000, duty: 0.93, count: 3_000 },
  ])('is that of the pulses, with no beat: %o', pulses => {
    const readings = readPulses(pulses)
    const mean = pulseVoltage(readings, switchingOf(pulses))!
    const parts = 8
    const farthest = (values: Float64Array) =>
      Math.max(
        ...Array.from({ length: parts }, (_, part) => {
          const length = values.length / parts
          const found = plainMean(
            values,
            Math.round(part * length),
            Math.round((part + 1) * length),
          )
          return Math.abs(found / meanOf(pulses) - 1)
        }),
      )
    expect(farthest(mean)).toBeLessThan(0.003)
    expect(farthest(readings)).toBeGreaterThan(2 * farthest(mean))
  })

  test('follows a supply that sags while the duty stays', () => {
    const pulses = { pulseHz: 3_137.7, rateHz: 20_000, duty: 0.4, count: 8_000 }
    const sagging = readPulses(pulses).map((volt, i) => volt * (1 - (0.2 * i) / pulses.count))
    const mean = pulseVoltage(sagging, switchingOf(pulses))!
    expect(plainMean(mean, 0, 400) / meanOf(pulses)).toBeCloseTo(0.995, 2)
    expect(plainMean(mean, 7_600, 8_000) / meanOf(pulses)).toBeCloseTo(0.805, 2)
  })

  test('is not told where the readings are no pulses of one duty', () => {
    const pulses = { pulseHz: 3_137.7, rateHz: 20_000, duty: 0.4, count: 8_000 }
    const count = 8_000
    const other = { ...pulses, pulseHz: 3_500 }
    const normal = seededNormal(seededUniform(3))
    const smooth = Float64Array.from({ length: count }, () => 12 + 0.1 * normal())
    const changing = Float64Array.from({ length: count }, (_, i) =>
      ((i * pulses.pulseHz) / pulses.rateHz) % 1 < 0.2 + (0.6 * i) / count ? ON_VOLT : OFF_VOLT,
    )
    // Means over a sample, 35 of them a period: each edge falls into one. Their own mean is exact.
    const slow = { pulseHz: 2_857.47, rateHz: 100_000, duty: 0.62, count: 16_000 }
    const fine = readPulses({ ...slow, rateHz: 40 * slow.rateHz, count: 40 * slow.count })
    const averaged = Float64Array.from({ length: slow.count }, (_, i) =>
      plainMean(fine, 40 * i, 40 * (i + 1)),
    )
    expect(pulseVoltage(averaged, switchingOf(slow))).toBeNull()
    expect(pulseVoltage(smooth, switchingOf(pulses))).toBeNull()
    expect(pulseVoltage(changing, switchingOf(pulses))).toBeNull()
    expect(pulseVoltage(readPulses(pulses), switchingOf(other))).toBeNull()
  })
})
