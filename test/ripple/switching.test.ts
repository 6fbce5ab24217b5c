import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { findSwitching } from '../../src/ripple/find-switching.ts'
import { removeSwitching, type Switching, telling } from '../../src/ripple/pwm-waveform.ts'
import { steadyLines, steadyRatio } from '../../src/ripple/steady-rate.ts'

const RATE_HZ = 20_000
const COUNT = 16_000
const OHM = 2
const normal = seededNormal(seededUniform(5))
const noise = Float64Array.from({ length: COUNT }, () => 1e-3 * normal())
const sine = (hz: number, amplitude: number, phase = 0) =>
  Float64Array.from(
    { length: COUNT },
    (_, i) => amplitude * Math.sin((2 * Math.PI * hz * i) / RATE_HZ + phase),
  )
const sum = (...parts: readonly Float64Array[]) =>
  parts[0]!.map((_, i) => parts.reduce((total, part) => total + part[i]!, 0))
const constant = (value: number) => new Float64Array(COUNT).fill(value)

describe('finding the switching in the voltage', () => {
  test('a tall line, to a hundredth of a hertz', () => {
    const voltage = sum(constant(12), sine(3711.3, 2), noise)
    expect(findSwitching(voltage, null, RATE_HZ, null)).toBeCloseTo(3711.3, 2)
  })

  test('a small one that drives the current; not one that the current makes in the supply', () => {
    const voltage = sum(constant(12), sine(3711.3, 0.05), noise)
    const driven = sum(constant(1), sine(3711.3, 0.05 / OHM / 3, -1), noise)
    expect(findSwitching(voltage, driven, RATE_HZ, OHM)).toBeCloseTo(3711.3, 1)
    const driving = sum(constant(1), sine(3711.3, 0.5), noise)
    expect(findSwitching(voltage, driving, RATE_HZ, OHM)).toBeNull()
  })

  test('hum of the supply is none', () => {
    const voltage = sum(constant(12), sine(100, 0.05), noise)
    const current = sum(constant(1), sine(100, 0.01), noise)
    expect(findSwitching(voltage, current, RATE_HZ, OHM)).toBeNull()
  })
})

describe('a voltage that is set in steps does not switch', () => {
  test.each([2, 3, 5, 8])('%i steps a record', steps => {
    const staircase = Float64Array.from(
      { length: COUNT },
      (_, i) => 4.8 * (1 + Math.floor((i * steps) / COUNT)),
    )
    const current = sum(
      staircase.map(volt => volt / 50),
      noise,
    )
    expect(findSwitching(sum(staircase, noise), current, RATE_HZ, OHM)).toBeNull()
    // And pulses on top of the steps still do.
    const pulses = sum(staircase, sine(3711.3, 2), noise)
    expect(findSwitching(pulses, current, RATE_HZ, OHM)).toBeCloseTo(3711.3, 1)
  })
})

describe('taking it off', () => {
  // The ninth harmonic, that neither channel holds, would stand on the line of the shaft.
  const frequency = 1111.7
  const shaftHz = 9 * frequency - 0.4
  const voltage = sum(constant(12), sine(frequency, 3), sine(2 * frequency, 1), noise)
  const pulses = sum(sine(frequency, 0.3, 1), sine(2 * frequency, 0.05, 2))
  const current = sum(constant(1), pulses, sine(shaftHz, 0.01), noise)

  test('its harmonics go, and a line of the shaft at one that it does not have stays', () => {
    const switching = telling(current, voltage, frequency, RATE_HZ)
    expect(switching.harmonics).toEqual([1, 2])
    const left = removeSwitching(current, switching)
    // One per cent may stay of what was 0.3 and 0.05.
    expect(amplitudeAt(left, frequency)).toBeLessThan(3e-3)
    expect(amplitudeAt(left, 2 * frequency)).toBeLessThan(5e-4)
    expect(amplitudeAt(left, shaftHz)).toBeCloseTo(0.01, 3)
    const all = removeSwitching(current, { ...switching, harmonics: null })
    expect(amplitudeAt(all, shaftHz)).toBeLessThan(0.005)
  })
})

test('a commutation that the running mean holds in part stays as high as it was', () => {
  // A third of the switching's rate: the mean over eight periods of that lets an eighth of it pass.
  const frequency = 2247.9
  const ripple = sine(682.6, 0.01)
  const current = sum(constant(1), sine(frequency, 0.02, 1), ripple, noise)
  for (const harmonics of [[1, 2], null]) {
    const left = removeSwitching(current, { frequency, sampleRate: RATE_HZ, harmonics })
    expect(amplitudeAt(left, 682.6)).toBeCloseTo(amplitudeAt(sum(constant(1), ripple), 682.6), 3)
    expect(amplitudeAt(left, frequency)).toBeLessThan(1e-3)
  }
})

describe('a steady rate', () => {
  const turnsPerSample = 17.013 / RATE_HZ
  const ratioIn = (ripple: Float64Array, switching: Switching | null = null) =>
    steadyRatio(steadyLines(ripple, turnsPerSample / 1.0032, 14, switching)!, [14, 2, 6])

  test('all orders tell it together, where the commutation alone is lost in noise', () => {
    const ripple = sum(
      sine(14 * 17.013, 2e-5),
      sine(2 * 17.013, 2e-4, 1),
      sine(6 * 17.013, 2e-4, 2),
      noise,
    )
    const { ratio, standardUncertainty } = ratioIn(ripple)!
    expect(Math.abs(ratio - 1.0032)).toBeLessThan(1e-3)
    expect(Math.abs(ratio - 1.0032)).toBeLessThan(4 * standardUncertainty)
  })

  test('noise alone tells none', () => {
    expect(ratioIn(noise)).toBeNull()
  })

  test('a far larger line of the switching beside the commutation moves nothing', () => {
    const shaft = sum(sine(14 * 17.013, 2e-3), noise)
    // Two resolutions of the stretch away, and growing over it.
    const frequency = 14 * 17.013 + (2 * RATE_HZ) / COUNT
    const pulses = sine(frequency, 0.1, 1).map((value, i) => value * (1 + i / COUNT))
    const switching = { frequency, sampleRate: RATE_HZ, harmonics: [1] }
    const { ratio, standardUncertainty } = ratioIn(sum(shaft, pulses), switching)!
    // A tenth of what the stretch resolves.
    expect(Math.abs(ratio - 1.0032)).toBeLessThan(5e-4)
    expect(Math.abs(ratio - 1.0032)).toBeLessThan(4 * standardUncertainty)
  })
})

function amplitudeAt(values: Float64Array, hz: number): number {
  let [re, im] = [0, 0]
  for (const [i, value] of values.entries()) {
    re += ((value - 1) * Math.cos((2 * Math.PI * hz * i) / RATE_HZ) * 2) / values.length
    im += ((value - 1) * Math.sin((2 * Math.PI * hz * i) / RATE_HZ) * 2) / values.length
  }
  return Math.hypot(re, im)
}
