import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import type { EmfCourse, EmfPiece } from '../../src/ripple/emf-course.ts'
import { findSwitching } from '../../src/ripple/find-switching.ts'
import { noiseFloor } from '../../src/ripple/noise-floor.ts'
import { removeSwitching } from '../../src/ripple/pwm-waveform.ts'
import { runUpTo } from '../../src/ripple/run-up.ts'
import { steadyLines, steadyRatio } from '../../src/ripple/steady-rate.ts'
import { withoutBeats } from '../../src/ripple/tones.ts'

const normal = seededNormal(seededUniform(11))
const values = (count: number, at: (i: number) => number) =>
  Float64Array.from({ length: count }, (_, i) => at(i))
const sine = (hz: number, rateHz: number, i: number) => Math.sin((2 * Math.PI * hz * i) / rateHz)
/** A bridge that applies 24 V for a share of each period, read at single moments. */
const pulses = (count: number, hz: number, rateHz: number, duty: number) =>
  values(count, i => {
    const periods = (hz * i) / rateHz
    return periods - Math.floor(periods) < duty ? 24 : 0
  })

describe('a line of the shaft among tones of the switching', () => {
  const rateHz = 200_000
  const frequency = 2564.29
  const shaftHz = 108
  const harmonics = Array.from({ length: 30 }, (_, k) => k + 1)

  test('10⁵ times as strong, one and a half resolutions away, and with harmonics that means of six would fold onto it', () => {
    // The line stands at 2592 Hz; the fourteenth harmonic folds to 2567 Hz at a sixth of the rate.
    const raw = values(12_000, i => {
      const tones = harmonics.reduce(
        (sum, m) => sum + (30 / m ** 2) * (1 + i / 12_000) * sine(m * frequency, rateHz, i),
        0,
      )
      return tones + 3e-3 * sine(24 * shaftHz, rateHz, i) + 1e-2 * normal()
    })
    const switching = { frequency, sampleRate: rateHz, harmonics }
    const lines = steadyLines(raw, shaftHz / 1.002 / rateHz, 24, switching)!
    const { ratio, standardUncertainty } = steadyRatio(lines, [24])!
    expect(Math.abs(ratio - 1.002)).toBeLessThan(4 * standardUncertainty)
    expect(standardUncertainty).toBeLessThan(1e-3)
  })
})

describe('a bridge with short pulses', () => {
  test('whose second line the transform shows taller: the rate is that of the pulses', () => {
    expect(findSwitching(pulses(8000, 2405.2, 10_000, 0.08), null, 10_000, null)).toBeCloseTo(
      2405.2,
      2,
    )
  })
})

describe('a bridge that switches nearly at a simple ratio to the sample rate', () => {
  test('at a seventh of it: its rate to a hundredth of a hertz, though the eighth harmonic is in the same line', () => {
    const voltage = pulses(4825, 2859.508, 20_000, 0.31)
    expect(findSwitching(voltage, null, 20_000, null)).toBeCloseTo(2859.508, 1.5)
  })

  test('at two fifths of it: its slow beats do not count as a course of the mean', () => {
    const [hz, rateHz] = [3992.585, 10_000]
    const voltage = pulses(2500, hz, rateHz, 0.7)
    const switching = { frequency: hz, sampleRate: rateHz, harmonics: null }
    const scatter = (volts: Float64Array) => {
      const means = values(50, k => {
        const block = volts.subarray(50 * k, 50 * (k + 1))
        return block.reduce((sum, volt) => sum + volt, 0) / block.length
      })
      return Math.max(...means) - Math.min(...means)
    }
    const clean = removeSwitching(voltage, switching)
    const even = withoutBeats(clean, switching)
    expect(scatter(clean)).toBeGreaterThan(1)
    expect(scatter(even)).toBeLessThan(0.4 * scatter(clean))
    expect(even.reduce((sum, volt) => sum + volt, 0) / even.length).toBeCloseTo(0.7 * 24, 1)
  })
})

test('the floor between lines is the noise, however strong the lines', () => {
  const noise = values(6000, () => 0.02 * normal())
  expect(noiseFloor(noise) / 0.02).toBeCloseTo(1, 1)
  const lined = noise.map((value, i) => value + 3 * sine(711.3, 5000, i) + sine(1333.4, 5000, i))
  expect(noiseFloor(lined) / 0.02).toBeLessThan(1.4)
})

describe('the run-up to a steady piece', () => {
  const [ohm, emfVolt, turnsPerSample, ripplesPerTurn] = [2, 20, 0.002, 14]
  const [count, timeConstant] = [30_000, 3000]
  /** Share by which the speed is still below its end, and the current that goes with it. */
  const below = (i: number) => 0.5 * Math.exp((i - 9 * timeConstant) / -timeConstant - 9)
  const piece = (start: number, end: number, continues: boolean): EmfPiece => {
    const ripple = values(end - start, i => {
      const turns = turnsPerSample * i
      const drag = 0.4 + (emfVolt / ohm) * below(start + i)
      return drag + 0.02 * Math.sin(2 * Math.PI * turns) + 0.05 * normal()
    })
    const common = { voltage: ripple, emf: ripple, switching: null, terminals: 'closed' } as const
    return { start, end, continues, raw: ripple, ripple, ...common }
  }
  const before = piece(0, count, false)
  const ask = (after: EmfPiece) => {
    const course: EmfCourse = {
      rateHz: 10_000,
      apertureSec: 0,
      pieces: [before, after],
      emfFrom: 'voltage',
      resistanceOhm: ohm,
      blockSamples: 10,
    }
    return runUpTo(after, course, emfVolt, turnsPerSample, ripplesPerTurn)
  }

  test('is as long as the phase of the commutation holds, and tells by how much it was slower', () => {
    const found = ask(piece(count, count + 3000, true))!
    const from = count - found.raw.length
    expect(found.raw.length).toBeGreaterThan(1.5 * 3000)
    let [lost, mean, weights] = [0, 0, 0]
    for (let i = from; i < count; i++) {
      const weight = 1 - Math.cos((2 * Math.PI * (i - from)) / found.raw.length)
      lost += below(i) * turnsPerSample * ripplesPerTurn
      mean += weight * below(i)
      weights += weight
    }
    expect(lost).toBeLessThan(0.4)
    expect(Math.abs(found.faster + mean / weights)).toBeLessThan(1e-4)
  })

  test('there is none after another command', () => {
    expect(ask(piece(count, count + 3000, false))).toBeNull()
  })
})
