import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { createPlant } from '../../src/practice-rig/create-plant.ts'
import { defaultBench } from '../../src/practice-rig/default-bench.ts'
import { recordPractice } from '../../src/practice-rig/record-practice.ts'
import type { Recording } from '../../src/records/recording.ts'
import { type TestRun, UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import { ripplesPerTurn } from '../../src/ripple/commutation.ts'
import { meanSpeed } from '../../src/ripple/mean-speed.ts'
import { type RippleSettings, UNKNOWN_MOTOR } from '../../src/ripple/ripple-settings.ts'
import { trackRipple } from '../../src/ripple/track-ripple.ts'
import { readSignals } from '../../src/signals/run-signals.ts'
import { practiceMotor } from '../support/practice.ts'
import { rippleCase } from '../support/ripple-case.ts'

const RATE_HZ = 50_000

/** Half voltage, full voltage, down to 70 %, coast, the other way round, coast to rest. */
function journey(name: string, bridge: 'linear' | 'pwm') {
  const motor = practiceMotor(name)
  const bench = defaultBench(motor, { bridge, pwmHz: 17_300 })
  const plant = createPlant(motor, bench, 4)
  const volt = motor.rating.voltageVolt
  const recording = recordPractice(
    plant,
    [
      { bridge: 'coast', setVolt: 0, durationSec: 0.05 },
      { bridge: 'drive', setVolt: 0.5 * volt, durationSec: 0.4 },
      { bridge: 'drive', setVolt: volt, durationSec: 0.5 },
      { bridge: 'drive', setVolt: 0.7 * volt, durationSec: 0.4 },
      { bridge: 'coast', setVolt: 0, durationSec: 0.15 },
      { bridge: 'drive', setVolt: -0.6 * volt, durationSec: 0.5 },
    ],
    RATE_HZ,
  )
  const { speed, ...columns } = recording.columns
  const known: Partial<RippleSettings> = {
    ripplesPerTurn: ripplesPerTurn(motor.winding.segments, motor.winding.polePairs),
    polePairs: motor.winding.polePairs,
    resistanceOhm: 1.05 * (motor.winding.copperOhm + motor.brush.contactOhm),
    brushDropVolt: motor.brush.dropVolt,
  }
  return { motor, run: runOf({ ...recording, columns }), encoder: speed!, known }
}

function runOf(recording: Recording): TestRun {
  return { id: 1, kind: 'mixed', recording, conditions: UNKNOWN_CONDITIONS }
}

const track = (run: TestRun, known: Partial<RippleSettings>) =>
  trackRipple(readSignals(run), { ...UNKNOWN_MOTOR, ...known })

describe('a journey through steps, coast and reversal', () => {
  test.each([
    ['hazelnut-24', 'linear'],
    ['hazelnut-24', 'pwm'],
    ['bellows-6', 'pwm'],
    ['fennimore-24', 'linear'],
    ['galleon-12', 'linear'],
  ] as const)('%s behind a %s supply: steady speeds as the encoder reads them', (name, bridge) => {
    const { run, encoder, known } = journey(name, bridge)
    const found = track(run, known)
    if (!found.ok) throw new Error(found.error.text)
    for (const [fromSec, toSec] of [
      [0.3, 0.44],
      [0.75, 0.94],
      [1.25, 1.34],
      [1.8, 1.99],
    ] as const) {
      const speed = meanSpeed(found.value, fromSec, toSec)!
      const rows = encoder.subarray(fromSec * RATE_HZ, toSec * RATE_HZ)
      const read = rows.reduce((sum, value) => sum + value, 0) / rows.length
      expect(speed.toSec - speed.fromSec).toBeGreaterThan(0.8 * (toSec - fromSec))
      expect(Math.abs(speed.radPerSec / read - 1), `${fromSec} s`).toBeLessThan(1e-3)
    }
  })

  test('the current alone tells the steady speeds, but not the direction', () => {
    const { run, encoder, known } = journey('bellows-6', 'pwm')
    const { current } = run.recording.columns
    const alone = runOf({
      ...run.recording,
      columns: { current: current! },
      bridge: null,
      edges: [],
    })
    const found = track(alone, known)
    if (!found.ok) throw new Error(found.error.text)
    expect(found.value.directionKnown).toBe(false)
    const speed = meanSpeed(found.value, 0.75, 0.94)!
    const rows = encoder.subarray(0.75 * RATE_HZ, 0.94 * RATE_HZ)
    const read = rows.reduce((sum, value) => sum + value, 0) / rows.length
    expect(Math.abs(speed.radPerSec / read - 1)).toBeLessThan(1e-3)
    // Wherever it claims a speed it is the right one, sign aside.
    for (const { start, end, turns } of found.value.stretches) {
      const mean =
        encoder.subarray(start, end).reduce((sum, value) => sum + value, 0) / (end - start)
      const turned = (turns.at(-1)! * 2 * Math.PI * RATE_HZ) / (turns.length - 1)
      expect(Math.abs(turned / Math.abs(mean) - 1)).toBeLessThan(0.02)
    }
  })

  test('a gap in the samples is a gap in the speed, and the angle goes on behind it', () => {
    const { run, known } = journey('hazelnut-24', 'linear')
    const current = run.recording.columns.current!.slice()
    current.fill(Number.NaN, 0.6 * RATE_HZ, 0.7 * RATE_HZ)
    const columns = { ...run.recording.columns, current }
    const found = track(runOf({ ...run.recording, columns }), known)
    if (!found.ok) throw new Error(found.error.text)
    const inGap = found.value.stretches.filter(
      s => s.start < 0.69 * RATE_HZ && s.end > 0.61 * RATE_HZ,
    )
    expect(inGap).toEqual([])
    expect(meanSpeed(found.value, 0.75, 0.9)).not.toBeNull()
  })
})

describe('seeded cases: 3 to 24 segments, 200 to 20 000 rpm, 0 to 30 dB, PWM of 2 to 20 kHz', () => {
  test.each([101, 104, 107, 110, 113, 116, 119, 122, 125, 128])(
    'case %d: within 0.1 %, or a word instead of a speed',
    seed => {
      const c = rippleCase(seed)
      const found = track(c.run, {
        ripplesPerTurn: c.ripplesPerTurn,
        polePairs: c.motor.winding.polePairs,
        resistanceOhm: c.resistanceOhm * (0.92 + 0.02 * (seed % 9)),
        backEmfConstant: {
          value: c.backEmfConstantVsPerRad * (0.85 + 0.03 * (seed % 11)),
          standardUncertainty: 0.12 * c.backEmfConstantVsPerRad,
        },
      })
      if (!found.ok) {
        expect(found.error.text.length).toBeGreaterThan(30)
        return
      }
      const speed = meanSpeed(found.value, c.steadyFromSec, Number.POSITIVE_INFINITY)
      if (speed !== null && speed.ripples > 150) {
        expect(Math.abs(speed.radPerSec / c.speedRadPerSec - 1)).toBeLessThan(1e-3)
      }
    },
  )
})

describe('no invented speed', () => {
  const { run, known } = journey('hazelnut-24', 'linear')
  /** The driven part alone, without what else would tell the speed. */
  const drivenRun = (change: (amp: number) => number, rangeAmp: number | null) => {
    const { recording } = run
    const driven = (values: Float64Array) => values.slice(0.05 * RATE_HZ + 1, 1.3 * RATE_HZ)
    return runOf({
      ...recording,
      sampleCount: driven(recording.timeSec!).length,
      timeSec: driven(recording.timeSec!),
      columns: {
        current: driven(recording.columns.current!).map(change),
        voltage: driven(recording.columns.voltage!),
      },
      bridge: null,
      edges: [],
      traits: {
        ...recording.traits,
        current: {
          ...recording.traits.current!,
          rangeLow: rangeAmp === null ? null : -rangeAmp,
          rangeHigh: rangeAmp,
        },
      },
    })
  }

  test('ripple buried in noise', () => {
    const normal = seededNormal(seededUniform(9))
    const found = track(
      drivenRun(amp => amp + 3 * normal(), null),
      known,
    )
    expect(found).toMatchObject({ ok: false, error: { code: 'no-ripple' } })
  })

  test('a saturated channel', () => {
    const clip = (amp: number) => Math.max(-0.05, Math.min(0.05, amp))
    const found = track(drivenRun(clip, 0.05), known)
    expect(found).toMatchObject({ ok: false, error: { code: 'saturated' } })
  })

  test('sampled too slowly, with the rate that would do', () => {
    const thin = (values: Float64Array) => values.filter((_, i) => i % 40 === 0)
    const { recording } = run
    const slow = runOf({
      ...recording,
      sampleCount: Math.ceil(recording.sampleCount / 40),
      timeSec: thin(recording.timeSec!),
      columns: {
        current: thin(recording.columns.current!),
        voltage: thin(recording.columns.voltage!),
      },
      bridge: null,
      edges: [],
    })
    const found = track(slow, {
      ...known,
      backEmfConstant: { value: 0.034, standardUncertainty: 0.003 },
    })
    expect(found).toMatchObject({
      ok: false,
      error: { code: 'sampled-too-slowly', neededHz: 5000 },
    })
  })

  test('a voltage read in step with the switching', () => {
    const traits = { ...run.recording.traits.voltage!, apertureSec: 0 }
    const stepped = runOf({
      ...run.recording,
      traits: { ...run.recording.traits, voltage: traits },
    })
    const found = track(stepped, { ...known, switchingHz: RATE_HZ })
    expect(found).toMatchObject({ ok: false, error: { code: 'switching-in-step' } })
  })

  test('a table, no channel, a motor at rest', () => {
    const table = runOf({ ...run.recording, timeSec: null, edges: [], bridge: null })
    expect(track(table, known)).toMatchObject({ ok: false, error: { code: 'missing-channel' } })
    const nothing = runOf({ ...run.recording, columns: {} })
    expect(track(nothing, known)).toMatchObject({ ok: false, error: { code: 'missing-channel' } })
    const normal = seededNormal(seededUniform(8))
    const rest = runOf({
      ...run.recording,
      columns: {
        current: run.recording.columns.current!.map(() => 1e-4 * normal()),
        voltage: run.recording.columns.voltage!.map(() => 1e-3 * normal()),
      },
    })
    const found = track(rest, known)
    expect(found.ok).toBe(false)
  })
})
