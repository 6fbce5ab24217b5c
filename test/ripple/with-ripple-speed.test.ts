import { describe, expect, test } from 'vitest'
import { analyseCoastDown } from '../../src/analysis/coast-down.ts'
import { analyseFreeRun } from '../../src/analysis/free-run.ts'
import { defaultBench } from '../../src/practice-rig/default-bench.ts'
import { practiceRun } from '../../src/practice-rig/practice-run.ts'
import type { BasicTest } from '../../src/practice-rig/practice-steps.ts'
import { practiceTruth } from '../../src/practice-rig/practice-truth.ts'
import { ripplesPerTurn } from '../../src/ripple/commutation.ts'
import { UNKNOWN_MOTOR } from '../../src/ripple/ripple-settings.ts'
import { withRippleSpeed } from '../../src/ripple/with-ripple-speed.ts'
import { practiceMotor } from '../support/practice.ts'

function withoutEncoder(name: string, kind: BasicTest) {
  const motor = practiceMotor(name)
  const bench = defaultBench(motor)
  const channels = bench.channels.filter(channel => channel.quantity !== 'speed')
  const { segments, polePairs, copperOhm, inductanceHenry } = motor.winding
  const settings = {
    ...UNKNOWN_MOTOR,
    ripplesPerTurn: ripplesPerTurn(segments, polePairs),
    polePairs,
    resistanceOhm: 1.02 * (copperOhm + motor.brush.contactOhm),
    inductanceHenry,
    brushDropVolt: motor.brush.dropVolt,
  }
  const seed = 11
  return {
    motor,
    settings,
    run: practiceRun(motor, kind, seed, { bench: { ...bench, channels }, rateHz: 50_000 }),
    encoded: practiceRun(motor, kind, seed, { bench, rateHz: 10_000 }),
  }
}

describe('k without a speed sensor, segments counted', () => {
  test.each(['dormouse-12', 'hazelnut-24', 'fennimore-24', 'coriander-48'])(
    '%s: within 0.5 %% from the coast-down',
    name => {
      const { motor, run, settings } = withoutEncoder(name, 'coast-down')
      const found = withRippleSpeed(run, settings)
      if (!found.ok) throw new Error(found.error.text)
      const analysis = analyseCoastDown(found.value.run)
      if (!analysis.ok) throw new Error(analysis.error.text)
      const k = analysis.value.values.backEmfConstantOpenTerminals!.value
      expect(Math.abs(k / practiceTruth(motor).backEmfConstant.value - 1)).toBeLessThan(5e-3)
    },
  )
})

describe('a speed channel like any other', () => {
  const { run, encoded, settings } = withoutEncoder('hazelnut-24', 'free-run')
  const found = withRippleSpeed(run, settings)
  if (!found.ok) throw new Error(found.error.text)
  const { recording } = found.value.run

  test('friction and k of a free run agree with those by the encoder', () => {
    const known = { brushDrop: { value: 0.9, standardUncertainty: 0.05, degreesOfFreedom: 10 } }
    const ripple = analyseFreeRun(found.value.run, known)
    const encoder = analyseFreeRun(encoded, known)
    if (!ripple.ok || !encoder.ok) throw new Error('a free run that tells nothing')
    for (const name of ['backEmfConstant', 'coulombTorque', 'viscousCoefficient']) {
      const own = ripple.value.values[name]!
      const other = encoder.value.values[name]!
      const sigma = Math.hypot(own.standardUncertainty, other.standardUncertainty)
      expect(Math.abs(own.value - other.value)).toBeLessThan(3 * sigma + 5e-4 * other.value)
    }
  })

  test('it states window, noise and gaps, and its rows are means', () => {
    const traits = recording.traits.speed!
    expect(traits.apertureSec).toBeGreaterThan(1e-3)
    expect(traits.noise).toBeGreaterThan(0)
    expect(recording.sampleCount).toBeLessThan(run.recording.sampleCount)
    const { speed } = recording.columns
    const gaps = speed!.filter(Number.isNaN).length
    // Standstill, reversal and the first moments of every start.
    expect(gaps).toBeGreaterThan(0.02 * speed!.length)
    expect(gaps).toBeLessThan(0.3 * speed!.length)
    expect(recording.traits.current!.apertureSec).toBeCloseTo(1e-4, 12)
    expect(found.value.warnings.map(w => w.code)).toContain('speed-crosses-zero')
  })

  test('its error is as large as it says', () => {
    const { speed } = recording.columns
    const { noise, apertureSec } = recording.traits.speed!
    const rowSec = recording.timeSec![1]! - recording.timeSec![0]!
    const window = Math.round(apertureSec / rowSec)
    // The encoder's own windows are a millisecond: over a whole window of rows it is exact.
    const errors: number[] = []
    for (let k = window; k < speed!.length; k += window) {
      const end = Math.round(recording.timeSec![k]! * 10_000)
      const rows = encoded.recording.columns.speed!.subarray(
        end - Math.round(apertureSec * 1e4),
        end,
      )
      const mean = rows.reduce((sum, value) => sum + value, 0) / rows.length
      const steady = Math.abs(rows.at(-1)! - rows[0]!) < 0.4
      if (steady && !Number.isNaN(speed![k]!)) errors.push(speed![k]! - mean)
    }
    expect(errors.length).toBeGreaterThan(50)
    const rms = Math.sqrt(errors.reduce((sum, e) => sum + e * e, 0) / errors.length)
    const stated = noise! / Math.sqrt(window)
    expect(rms).toBeLessThan(3 * stated)
    expect(rms).toBeGreaterThan(stated / 10)
  })
})

test.each([
  [null, 'the number of ripples a turn is not known'],
  [0, 'ripples a turn = 0; must be a whole number from 2 to 1200'],
  [2001, 'ripples a turn = 2001; must be a whole number from 2 to 1200'],
])('%s ripples a turn make no speed', (count, text) => {
  const { run, settings } = withoutEncoder('hazelnut-24', 'run-up')
  const found = withRippleSpeed(run, { ...settings, ripplesPerTurn: count })
  expect(found.ok).toBe(false)
  if (!found.ok) expect(found.error.text).toContain(text)
})
