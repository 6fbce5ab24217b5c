import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { summarise } from '../../src/procedure/summary.ts'
import type { DriveStep, TestPlan } from '../../src/procedure/test-plan.ts'
import { PLAIN_TRAITS, type Recording } from '../../src/records/recording.ts'
import { UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import { expectRelative } from '../support/expect-relative.ts'

const RATE_HZ = 10_000

const step = (bridge: DriveStep['bridge'], setVolt: number, durationSec: number): DriveStep => ({
  bridge,
  setVolt,
  durationSec,
  currentLimitAmp: 10,
  purpose: '',
})

function planOf(steps: readonly DriveStep[]): TestPlan {
  return {
    kind: 'locked-rotor',
    rateHz: RATE_HZ,
    steps,
    shaft: 'locked',
    conditions: UNKNOWN_CONDITIONS,
    expectedPeakAmp: null,
    expectedRiseKelvin: null,
  }
}

interface Signals {
  readonly volt: (sec: number, setVolt: number, inStep: number) => number
  readonly amp: (sec: number, setVolt: number, inStep: number) => number
  readonly speed?: (sec: number, setVolt: number, inStep: number) => number
}

/** Sampled course of the plan's steps, with an edge wherever the bridge changes. */
function recordingOf(plan: TestPlan, signals: Signals): Recording {
  const total = plan.steps.reduce((sum, item) => sum + item.durationSec, 0)
  const count = Math.round(total * RATE_HZ)
  const timeSec = Float64Array.from({ length: count }, (_, i) => (i + 1) / RATE_HZ)
  const starts = plan.steps.map((_, i) =>
    plan.steps.slice(0, i).reduce((sum, item) => sum + item.durationSec, 0),
  )
  const at = (sec: number) => {
    let index = 0
    while (index + 1 < starts.length && starts[index + 1]! < sec - 1e-12) index++
    return { setVolt: plan.steps[index]!.setVolt, inStep: sec - starts[index]! }
  }
  const column = (signal: Signals['volt']) =>
    timeSec.map(sec => signal(sec, at(sec).setVolt, at(sec).inStep))
  return {
    sampleCount: count,
    timeSec,
    columns: {
      voltage: column(signals.volt),
      current: column(signals.amp),
      ...(signals.speed ? { speed: column(signals.speed) } : {}),
    },
    bridge: null,
    edges: plan.steps.map((item, i) => ({
      timeSec: starts[i]!,
      state: item.bridge,
      setVolt: item.setVolt,
    })),
    traits: { current: PLAIN_TRAITS },
  }
}

const normal = seededNormal(seededUniform(11))
const PULSES = planOf([
  step('coast', 0, 0.1),
  step('drive', 4, 0.1),
  step('coast', 0, 0.05),
  step('drive', -8, 0.1),
  step('coast', 0, 0.05),
])
const TAU = 0.5e-3

describe('pulses of a locked rotor', () => {
  const summary = summarise(
    recordingOf(PULSES, {
      volt: (_, set) => set + 0.02 * normal(),
      amp: (_, set, t) => 0.03 + (set / 2) * (1 - Math.exp(-t / TAU)) + 0.01 * normal(),
      speed: () => 0.5 * normal(),
    }),
    PULSES,
  )

  test('each drive step is found, with the offset at rest taken off', () => {
    expect(summary.steps.map(item => [item.stepIndex, item.setVolt])).toEqual([
      [1, 4],
      [3, -8],
    ])
    expectRelative(summary.restAmp!.value, 0.03, 0.1)
    expectRelative(summary.steps[0]!.amp!.value, 2, 2e-3)
    expectRelative(summary.steps[1]!.amp!.value, -4, 2e-3)
    expectRelative(summary.steps[1]!.volt!.value, -8, 2e-3)
  })

  test('the uncertainty of a mean is its scatter over the root of the count', () => {
    // 35 % of 1000 samples, by hand.
    expectRelative(summary.steps[0]!.amp!.uncertainty, 0.01 / Math.sqrt(350), 0.5)
  })

  test('the rise of the current takes the electrical time constant', () => {
    expectRelative(summary.steps[1]!.currentRiseSec!, TAU, 0.05)
  })

  test('energy is the integral of power', () => {
    // 8 V × 4 A × (0.1 s − τ), by hand.
    expectRelative(summary.steps[1]!.energyJoule!, 32 * (0.1 - TAU), 0.01)
  })

  test('a still shaft has not turned, and no speed rose', () => {
    expect(Math.abs(summary.steps[1]!.turnedRad!)).toBeLessThan(0.01)
    expect(summary.steps[1]!.speedRiseSec).toBeNull()
  })

  test('no drift is seen where there is none', () => {
    const { drift } = summary.steps[1]!
    expect(Math.abs(drift!.value)).toBeLessThan(4 * drift!.uncertainty)
  })
})

test('the drift of v over i is that of a warming winding, with its energy between the windows', () => {
  const plan = planOf([step('coast', 0, 0.1), step('drive', 6, 0.2), step('coast', 0, 0.05)])
  const perSec = 0.1
  const ohm = (t: number) => 2 * (1 + perSec * t)
  const summary = summarise(
    recordingOf(plan, {
      volt: (_, set) => set,
      amp: (_, set, t) => (set / ohm(t)) * (1 - Math.exp(-t / TAU)) + 1e-4 * normal(),
    }),
    plan,
  )
  const { drift, driftJoule } = summary.steps[0]!
  const betweenSec = driftJoule! / (6 * 3)
  expectRelative(betweenSec, 0.12, 0.1)
  expectRelative(drift!.value, perSec * betweenSec, 0.05)
})

test('a spike is no reading, and a peak is no single sample', () => {
  const plan = planOf([step('coast', 0, 0.1), step('drive', 4, 0.1)])
  const summary = summarise(
    recordingOf(plan, {
      volt: (_, set) => set + 0.01 * normal(),
      amp: (sec, set) => (Math.abs(sec - 0.19) < 6e-5 ? 500 : set / 2) + 0.01 * normal(),
    }),
    plan,
  )
  expectRelative(summary.steps[0]!.amp!.value, 2, 0.01)
})

test('a turn: speed, angle and time to 63 %', () => {
  const plan: TestPlan = {
    ...planOf([step('coast', 0, 0.1), step('drive', 6, 0.5)]),
    shaft: 'free',
  }
  const summary = summarise(
    recordingOf(plan, {
      volt: (_, set) => set,
      amp: (_, set) => (set > 0 ? 0.3 : 0) + 0.005 * normal(),
      speed: (_, set, t) => (set > 0 ? 100 * (1 - Math.exp(-t / 0.03)) : 0) + 0.1 * normal(),
    }),
    plan,
  )
  expectRelative(summary.steps[0]!.radPerSec!.value, 100, 1e-3)
  expectRelative(summary.steps[0]!.speedRiseSec!, 0.03, 0.05)
  expectRelative(summary.steps[0]!.turnedRad!, 100 * (0.5 - 0.03), 0.01)
})

test('a long hold sent in several commands of one voltage is one step', () => {
  const plan = planOf([step('coast', 0, 0.1), step('drive', 6, 0.2), step('drive', 6, 0.2)])
  const summary = summarise(
    recordingOf(plan, { volt: (_, set) => set, amp: (_, set) => set / 3 }),
    plan,
  )
  expect(summary.steps).toHaveLength(1)
  expectRelative(summary.steps[0]!.durationSec, 0.4, 1e-3)
})

test('a run that ended early has the steps that were driven', () => {
  const whole = recordingOf(PULSES, { volt: (_, set) => set, amp: (_, set) => set / 2 })
  const count = 1800
  const cut: Recording = {
    ...whole,
    sampleCount: count,
    timeSec: whole.timeSec!.subarray(0, count),
    columns: {
      voltage: whole.columns.voltage!.subarray(0, count),
      current: whole.columns.current!.subarray(0, count),
    },
    edges: whole.edges.slice(0, 2),
  }
  expect(summarise(cut, PULSES).steps.map(item => item.setVolt)).toEqual([4])
})

test('nothing recorded, nothing said', () => {
  const empty: Recording = {
    sampleCount: 0,
    timeSec: new Float64Array(0),
    columns: {},
    bridge: null,
    edges: [],
    traits: {},
  }
  expect(summarise(empty, PULSES)).toMatchObject({ steps: [], samples: 0, peakAmp: null })
})
