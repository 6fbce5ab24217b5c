import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { BRIDGE, PLAIN_TRAITS } from '../../src/records/recording.ts'
import { type TestRun, UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import { meansOverPeriods } from '../../src/signals/period-means.ts'
import { readSignals } from '../../src/signals/run-signals.ts'
import { screenRun } from '../../src/signals/screen-run.ts'
import { switchedVoltage } from '../../src/signals/switched-voltage.ts'

const BUS_VOLT = 24
const DUTY = 0.37

interface Pulses {
  readonly rateHz: number
  readonly pwmHz: number
  readonly lowVolt?: number
  readonly coastFromSec?: number
}

/** A fifth of a second of pulses read by a sensor that is fast and not quite free of noise. */
function pulses({ rateHz, pwmHz, lowVolt = 0, coastFromSec = 1 }: Pulses): TestRun {
  const normal = seededNormal(seededUniform(3))
  const count = Math.round(0.2 * rateHz)
  const timeSec = Float64Array.from({ length: count }, (_, i) => i / rateHz)
  const isCoasting = (t: number) => t >= coastFromSec
  const volt = (t: number) =>
    isCoasting(t) ? 5 : (t * pwmHz + 0.3) % 1 < DUTY ? BUS_VOLT : lowVolt
  return {
    id: 1,
    kind: 'free-run',
    conditions: UNKNOWN_CONDITIONS,
    recording: {
      sampleCount: count,
      timeSec,
      columns: {
        voltage: timeSec.map(t => volt(t) + 0.02 * normal()),
        current: timeSec.map(t => 2 + 10 * t),
      },
      bridge: Uint8Array.from(timeSec, t => (isCoasting(t) ? BRIDGE.coast : BRIDGE.drive)),
      edges: [],
      traits: {},
    },
  }
}

const found = (run: TestRun) => switchedVoltage(readSignals(run))

describe('a voltage read within the pulses', () => {
  test.each([
    ['between nil and the bus', 0, DUTY * BUS_VOLT, BUS_VOLT],
    ['between both signs of the bus', -BUS_VOLT, (2 * DUTY - 1) * BUS_VOLT, 2 * BUS_VOLT],
  ])(
    '%s: frequency, levels and the mean, which is the share of time at each',
    (_, low, mean, span) => {
      // The mean of a switched voltage is its duty times what it switches: common practice, no source.
      const run = pulses({ rateHz: 487_000, pwmHz: 10_000, lowVolt: low })
      const switched = found(run)
      if (switched === null || switched === 'unsteady') throw new Error('not found')
      expect(1 / switched.periodSec).toBeCloseTo(10_000, -1)
      expect(Math.abs(switched.busVolt / span - 1)).toBeLessThan(0.01)
      const { recording, conditions } = meansOverPeriods(run, switched)
      expect(conditions.switchingHz).toBeCloseTo(10_000, -1)
      const volts = recording.columns.voltage!
      expect(volts.length).toBe(2000)
      // A pulse's ends fall between samples: a mean is off by part of a sample of its 48.7.
      for (const volt of volts) expect(Math.abs(volt - mean)).toBeLessThan(span / 48.7 + 0.05)
      const average = volts.reduce((sum, volt) => sum + volt, 0) / volts.length
      expect(Math.abs(average - mean)).toBeLessThan(3 * switched.meanUncertaintyVolt)
      // Stamped at the end of what it is the mean of.
      const { timeSec, traits, columns } = recording
      expect(traits.current!.apertureSec).toBeCloseTo(1e-4, 7)
      columns.current!.forEach((amp, n) => {
        expect(amp).toBeCloseTo(2 + 10 * (timeSec![n]! - 0.5e-4), 6)
      })
    },
  )

  test('no mean reaches over a change of the bridge', () => {
    const run = pulses({ rateHz: 500_000, pwmHz: 7300, coastFromSec: 0.10003 })
    const { run: means } = screenRun(run)
    const { bridge, columns } = means.recording
    const last = bridge!.lastIndexOf(BRIDGE.drive)
    expect(columns.voltage![last]).toBeCloseTo(DUTY * BUS_VOLT, 0)
    expect(columns.voltage![last + 1]).toBeCloseTo(5, 1)
    expect(bridge!.every((code, n) => code === (n > last ? BRIDGE.coast : BRIDGE.drive))).toBe(true)
  })

  test('a coast that passes through half of the voltage hides no pulses before it', () => {
    const run = pulses({ rateHz: 500_000, pwmHz: 7300, coastFromSec: 0.05 })
    const voltage = run.recording.columns.voltage!.map((volt, i) =>
      run.recording.bridge![i] === BRIDGE.coast ? 20 * Math.exp(-i / 60_000) : volt,
    )
    const { recording } = run
    const coasting = {
      ...run,
      recording: { ...recording, columns: { ...recording.columns, voltage } },
    }
    expect(found(coasting)).toMatchObject({ busVolt: expect.closeTo(BUS_VOLT, 0) })
  })

  test('samples in step with the pulses err alike every time: said in the uncertainty', () => {
    const [inStep, outOfStep] = [480_000, 487_000].map(rateHz =>
      found(pulses({ rateHz, pwmHz: 10_000 })),
    )
    if (!inStep || inStep === 'unsteady' || !outOfStep || outOfStep === 'unsteady')
      throw new Error()
    expect(inStep.meanUncertaintyVolt).toBeGreaterThan(4 * outOfStep.meanUncertaintyVolt)
    const { traits } = meansOverPeriods(
      pulses({ rateHz: 480_000, pwmHz: 10_000 }),
      inStep,
    ).recording
    expect(traits.voltage!.zeroUncertainty).toBe(inStep.meanUncertaintyVolt)
    expect(PLAIN_TRAITS.zeroUncertainty).toBe(0)
  })
})

test('too few samples a period: the run is left out, and what would do is said', () => {
  const { spoiledBy } = screenRun(pulses({ rateHz: 50_300, pwmHz: 10_000 }))
  expect(spoiledBy!.text).toMatch(
    /as a PWM bridge does, at 10 kHz, and 5 samples a period .* or samples at 120 kHz and more/,
  )
})

test('a bridge that gives means has nothing that switches', () => {
  const run = pulses({ rateHz: 487_000, pwmHz: 10_000 })
  const { run: means, findings } = screenRun(run)
  expect(findings.map(({ code }) => code)).toContain('raw-pwm')
  expect(found(means)).toBeNull()
  expect(screenRun(means).run).toBe(means)
})
