import { describe, expect, test } from 'vitest'
import { countToSi } from '../../src/protocol/counts.ts'
import type { PracticeBench, PracticeChannel } from '../../src/practice-rig/bench.ts'
import { createPlant } from '../../src/practice-rig/create-plant.ts'
import { defaultBench } from '../../src/practice-rig/default-bench.ts'
import { CLEAN, REALISTIC, withImperfections } from '../../src/practice-rig/imperfections.ts'
import { NO_GUARDS, type Plant } from '../../src/practice-rig/plant.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { losslessBench, practiceMotor, textbookMotor } from '../support/practice.ts'

const motor = practiceMotor('hazelnut-24')
const SILENT = { ...CLEAN, noiseScale: 0 }

function withChannel(
  bench: PracticeBench,
  quantity: PracticeChannel['quantity'],
  changes: Partial<PracticeChannel>,
): PracticeBench {
  return {
    ...bench,
    channels: bench.channels.map(c => (c.quantity === quantity ? { ...c, ...changes } : c)),
  }
}

/** Values of one channel at `count` samples from now. */
function readings(plant: Plant, quantity: string, periodSec: number, count: number): number[] {
  const sampler = plant.setSamplePeriod(periodSec)
  const index = sampler.channels.findIndex(c => c.quantity === quantity)
  const counts = new Int32Array(sampler.channels.length)
  const start = plant.timeSec
  return Array.from({ length: count }, (_, n) => {
    plant.advance(start + (n + 1) * periodSec, NO_GUARDS)
    sampler.read(counts, 0)
    return countToSi(sampler.channels[index]!, counts[index]!)
  })
}

const mean = (xs: readonly number[]) => xs.reduce((sum, x) => sum + x, 0) / xs.length
const deviation = (xs: readonly number[]) => Math.sqrt(mean(xs.map(x => (x - mean(xs)) ** 2)))

describe('analogue channels', () => {
  test('noise has the declared standard deviation', () => {
    const plant = createPlant(motor, defaultBench(motor), 3)
    const channel = plant.setSamplePeriod(1e-3).channels[1]!
    const seen = readings(plant, 'current', 1e-3, 4000)
    // Rounding to codes adds a uniform error of scale²/12.
    expectRelative(deviation(seen), Math.hypot(channel.noise, channel.scale / Math.sqrt(12)), 0.04)
  })

  test('codes are those of the declared bits and stop at their ends', () => {
    const bench = withChannel(defaultBench(motor), 'voltage', { bits: 12, fullScale: 20 })
    const plant = createPlant(motor, bench, 3)
    plant.setBridge('drive', 24)
    const channel = plant.setSamplePeriod(1e-4).channels[0]!
    expectRelative(channel.scale, 40 / 4096, 1e-12)
    const seen = readings(plant, 'voltage', 1e-4, 20)
    expect(Math.max(...seen)).toBeCloseTo(20 - 40 / 4096, 9)
  })

  test('calibration errors stay with the bench and are drawn from their uncertainty', () => {
    const errors = Array.from({ length: 60 }, (_, seed) => {
      const bench = withChannel(defaultBench(motor), 'current', { zeroUncertainty: 0.02 })
      const zero = (noiseSeed: number) =>
        mean(
          readings(createPlant(motor, bench, noiseSeed, { benchSeed: seed }), 'current', 1e-3, 20),
        )
      expect(Math.abs(zero(1) - zero(2))).toBeLessThan(1e-3)
      return zero(1)
    })
    expectRelative(deviation(errors), 0.02, 0.3)
  })

  test('an averaging window gives the mean of the period it closes', () => {
    // Current from 0 towards 1 A with a time constant of 1 ms, period 1 ms: mean of the first is 1/e.
    const winding = textbookMotor({ ohm: 10, henry: 0.01, k: 1, inertia: 1 })
    const plant = createPlant(winding, losslessBench(winding, 12), 1, { switches: SILENT })
    plant.setShaft({ hold: 'locked', angleRad: 0 })
    plant.setBridge('drive', 10)
    const [first] = readings(plant, 'current', 1e-3, 1)
    expectRelative(first!, Math.exp(-1), 1e-5)
  })

  test('an instantaneous reading is that of its moment, a delayed one older by its delay', () => {
    const winding = textbookMotor({ ohm: 10, henry: 0.01, k: 1, inertia: 1 })
    for (const delaySec of [0, 2e-4]) {
      const bench = withChannel(losslessBench(winding, 12), 'current', { apertureSec: 0, delaySec })
      const plant = createPlant(winding, bench, 1, { switches: SILENT })
      plant.setShaft({ hold: 'locked', angleRad: 0 })
      plant.setBridge('drive', 10)
      const [first] = readings(plant, 'current', 1e-3, 1)
      expectRelative(first!, 1 - Math.exp(-(1e-3 - delaySec) / 1e-3), 1e-5)
    }
  })

  test('a window shorter than the period ends at the sample', () => {
    const winding = textbookMotor({ ohm: 10, henry: 0.01, k: 1, inertia: 1 })
    const bench = withChannel(losslessBench(winding, 12), 'current', { apertureSec: 1e-4 })
    const plant = createPlant(winding, bench, 1, { switches: SILENT })
    plant.setShaft({ hold: 'locked', angleRad: 0 })
    plant.setBridge('drive', 10)
    const [, second] = readings(plant, 'current', 1e-3, 2)
    const exact = 1 - (Math.exp(-1.9) - Math.exp(-2)) / 0.1
    expectRelative(second!, exact, 1e-5)
  })

  test('under PWM whole periods are averaged: mean voltage, no trace of the pulses', () => {
    const plant = createPlant(motor, defaultBench(motor, { bridge: 'pwm' }), 1, {
      switches: SILENT,
    })
    plant.setBridge('drive', 12)
    plant.advance(0.3, NO_GUARDS)
    const slow = readings(plant, 'voltage', 1e-4, 100)
    expectRelative(mean(slow), 12, 5e-3)
    expect(deviation(slow)).toBeLessThan(0.02)
    const fast = readings(plant, 'voltage', 5e-6, 1000)
    expect(deviation(fast)).toBeGreaterThan(10)
  })
})

describe('encoder', () => {
  const ramp = (method: 'count' | 'timed', windowSec: number) => {
    const bench = withChannel(defaultBench(motor), 'speed', {
      encoder: { countsPerTurn: 4000, windowSec, method, eccentricityRad: 0 },
    })
    const plant = createPlant(motor, bench, 1, {
      switches: withImperfections(REALISTIC, { calibration: false, quantisation: false }),
    })
    plant.setBridge('drive', 24)
    plant.advance(0.01, NO_GUARDS)
    return plant
  }

  test.each(['count', 'timed'] as const)('speed by %s lags half its window', method => {
    const windowSec = 4e-3
    const plant = ramp(method, windowSec)
    const seen = readings(plant, 'speed', 1e-3, 8)
    const exact = ramp(method, windowSec)
    exact.advance(0.018 - windowSec / 2, NO_GUARDS)
    expectRelative(seen[7]!, exact.state().speedRadPerSec, 4e-3)
    expect(plant.state().speedRadPerSec).toBeGreaterThan(1.03 * seen[7]!)
  })

  test('counts in a window make steps of 2π/(counts per turn × window)', () => {
    const plant = ramp('count', 1e-3)
    const step = (2 * Math.PI) / 4000 / 1e-3
    const plantSeen = readings(plant, 'speed', 1e-3, 50)
    const noise = plant.setSamplePeriod(1e-3).channels[2]!.noise
    for (const speed of plantSeen) {
      expect(Math.abs(speed / step - Math.round(speed / step)) * step).toBeLessThan(5 * noise)
    }
  })

  test('edge timing resolves far better than counting, up to the eccentricity of the disc', () => {
    const spread = (method: 'count' | 'timed', eccentricityRad: number) => {
      const bench = withChannel(defaultBench(motor), 'speed', {
        encoder: { countsPerTurn: 4000, windowSec: 1e-3, method, eccentricityRad },
      })
      const plant = createPlant(motor, bench, 1, { switches: { ...REALISTIC, noiseScale: 0 } })
      plant.setShaft({ hold: 'driven', speedRadPerSec: 123.4 })
      return deviation(readings(plant, 'speed', 1e-3, 500))
    }
    expect(spread('count', 0)).toBeGreaterThan(0.3)
    expect(spread('timed', 0)).toBeLessThan(0.02)
    // e ω sin(ω t): amplitude 5e-4 × 123.4, by hand.
    expectRelative(spread('timed', 5e-4), (5e-4 * 123.4) / Math.SQRT2, 0.1)
  })

  test('position counts run round in 16 bits and start again where zero is marked', () => {
    const plant = createPlant(motor, defaultBench(motor, { position: true }), 1)
    const sampler = plant.setSamplePeriod(1e-3)
    const counts = new Int32Array(4)
    plant.setShaft({ hold: 'driven', speedRadPerSec: 100 })
    plant.advance(1.2, NO_GUARDS)
    sampler.read(counts, 0)
    expect(sampler.channels[3]).toMatchObject({ kind: 'modulo', bits: 16 })
    expect(counts[3]).toBe(
      Math.floor(((120 + 2e-4 * Math.sin(120)) * 4000) / (2 * Math.PI)) - 65536,
    )
    plant.markZero()
    plant.advance(1.3, NO_GUARDS)
    sampler.read(counts, 0)
    expect(Math.abs(counts[3]! - (10 * 4000) / (2 * Math.PI))).toBeLessThan(2)
  })
})
