import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import type { DriveStep, TestPlan } from '../../src/procedure/test-plan.ts'
import type { Trip } from '../../src/procedure/trip.ts'
import {
  newWatch,
  type WatchedSamples,
  watchBus,
  watchRules,
  watchSamples,
  watchSilence,
} from '../../src/procedure/watch.ts'
import { BRIDGE } from '../../src/records/recording.ts'
import { UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'

const drive: DriveStep = {
  bridge: 'drive',
  setVolt: 6,
  durationSec: 1,
  currentLimitAmp: 5,
  purpose: 'level 1 of 1',
}

function planFor(shaft: TestPlan['shaft'], allowedMeanRiseKelvin = 15): TestPlan {
  return {
    kind: shaft === 'locked' ? 'locked-rotor' : 'free-run',
    rateHz: 1000,
    steps: [drive],
    shaft,
    conditions: UNKNOWN_CONDITIONS,
    expectedPeakAmp: 3,
    expectedRiseKelvin: 2,
    guard: {
      limits: {
        currentAmp: 5,
        currentLimitedBy: "the supply's current limit",
        voltageVolt: 24,
        voltageLimitedBy: "the supply's voltage",
        busVolt: 28,
        speedRadPerSec: 400,
        riseKelvin: 30,
        stallSec: 0.8,
        stepSec: 5,
      },
      allowedMeanRiseKelvin,
      brushVolt: 0,
      startCelsius: 20,
      pwmHz: null,
    },
  }
}

type Wave = (sec: number) => number

interface Course {
  readonly sec?: number
  readonly amp?: Wave
  readonly volt?: Wave
  readonly speed?: Wave
  readonly position?: Wave
  readonly temperature?: Wave
  readonly bridge?: Wave
  readonly time?: (index: number) => number
}

const RATE_HZ = 1000

/** Fed in blocks of 37 samples into the same buffers, as a session does. */
function watched(plan: TestPlan, course: Course): Trip | null {
  const state = newWatch()
  const rules = watchRules(plan)
  const size = 37
  const buffer = () => new Float64Array(size)
  const samples = {
    timeSec: buffer(),
    bridge: new Uint8Array(size),
    voltage: course.volt ? buffer() : null,
    current: course.amp ? buffer() : null,
    speed: course.speed ? buffer() : null,
    position: course.position ? buffer() : null,
    temperature: course.temperature ? buffer() : null,
  }
  const total = Math.round((course.sec ?? 0.6) * RATE_HZ)
  for (let from = 0; from < total; from += size) {
    const count = Math.min(size, total - from)
    for (let i = 0; i < count; i++) {
      const sec = course.time ? course.time(from + i) : (from + i) / RATE_HZ
      samples.timeSec[i] = sec
      samples.bridge[i] = course.bridge ? course.bridge(sec) : BRIDGE.drive
      if (samples.voltage) samples.voltage[i] = course.volt!(sec)
      if (samples.current) samples.current[i] = course.amp!(sec)
      if (samples.speed) samples.speed[i] = course.speed!(sec)
      if (samples.position) samples.position[i] = course.position!(sec)
      if (samples.temperature) samples.temperature[i] = course.temperature!(sec)
    }
    const block: WatchedSamples = { count, ...samples }
    const trip = watchSamples(state, block, rules)
    if (trip) return trip
  }
  return null
}

const still: Wave = () => 0
const turning: Wave = () => 200

describe('what opens the bridge', () => {
  const cases: readonly [string, Trip['code'], TestPlan['shaft'], Course, number][] = [
    ['over-current', 'over-current', 'locked', { amp: t => (t < 0.1 ? 3 : 5.1) }, 0.102],
    [
      'over-current backwards',
      'over-current',
      'locked',
      { amp: t => (t < 0.1 ? -3 : -5.1) },
      0.102,
    ],
    ['over-speed', 'over-speed', 'free', { speed: t => 1000 * t }, 0.403],
    ['a clamp that slips', 'slip', 'locked', { speed: t => (t < 0.2 ? 0 : 10) }, 0.215],
    [
      'a clamp that slips, by position',
      'slip',
      'locked',
      { position: t => 3 + (t < 0.2 ? 0 : t - 0.2) },
      0.351,
    ],
    ['a bar left on', 'no-motion', 'free', { speed: still, amp: () => 2 }, 0.501],
    [
      'a shaft that stops under drive',
      'stalled',
      'free',
      { speed: t => (t < 0.3 ? 100 : 0), sec: 2 },
      1.1,
    ],
    ['a stall of anything', 'stalled', 'any', { speed: still, sec: 2 }, 0.801],
    ['a locked pulse too long', 'stalled', 'locked', { speed: still, sec: 2 }, 0.801],
    ['a winding sensor', 'over-temperature', 'any', { temperature: t => 25 + 100 * t }, 0.151],
    [
      'a hole in the samples',
      'samples-lost',
      'free',
      { speed: turning, time: i => i / RATE_HZ + (i > 200 ? 0.2 : 0) },
      0.401,
    ],
  ]
  test.each(cases)('%s', (_, code, shaft, course, atSec) => {
    const trip = watched(planFor(shaft), course)
    expect(trip?.code).toBe(code)
    expect(trip!.timeSec).toBeGreaterThan(atSec - 0.012)
    expect(trip!.timeSec).toBeLessThan(atSec + 0.012)
    expect(trip!.text).not.toMatch(/NaN|undefined/)
  })

  test('the warming of a locked winding, from the drift of v over i', () => {
    // 1 % of resistance is 2.5 K; 40 K a second reaches 5 K after 125 ms beyond the first window.
    const plan = planFor('locked', 5)
    const ohm: Wave = t => 2 * (1 + (40 * t) / 254.5)
    const trip = watched(plan, { volt: () => 6, amp: t => 6 / ohm(t), speed: still })
    expect(trip?.code).toBe('over-temperature')
    expect(trip!.timeSec).toBeGreaterThan(0.12)
    expect(trip!.timeSec).toBeLessThan(0.22)
  })

  test('the bus and a silent link, once', () => {
    const rules = watchRules(planFor('free'))
    const state = newWatch()
    expect(watchBus(state, 1, 27, rules)).toBeNull()
    expect(watchBus(state, 2, 29, rules)).toMatchObject({ code: 'bus-voltage', value: 29 })
    expect(watchBus(state, 3, 30, rules)).toBeNull()
    expect(watchSilence(newWatch(), 0.2, rules)).toBeNull()
    expect(watchSilence(newWatch(), 0.3, rules)).toMatchObject({ code: 'link-silent' })
  })
})

describe('what does not', () => {
  const normal = seededNormal(seededUniform(3))
  const noisy =
    (wave: Wave, sigma: number): Wave =>
    t =>
      wave(t) + sigma * normal()
  const cases: readonly [string, TestPlan['shaft'], Course][] = [
    [
      'two samples above the limit',
      'locked',
      { amp: t => (t > 0.1 && t < 0.1025 ? 9 : 3), speed: still },
    ],
    [
      'noise of a still shaft',
      'locked',
      { speed: noisy(still, 2), amp: noisy(() => 3, 0.1), volt: noisy(() => 6, 0.01) },
    ],
    ['a clamp that gives and comes back', 'locked', { position: t => 0.1 * Math.sin(40 * t) }],
    ['a slow but steady turn', 'free', { speed: noisy(() => 2, 1), sec: 3 }],
    [
      'rest between pulses',
      'locked',
      { speed: still, bridge: t => (t % 0.5 < 0.2 ? BRIDGE.drive : BRIDGE.coast), sec: 3 },
    ],
    ['standstill while coasting', 'free', { speed: still, bridge: () => BRIDGE.coast, sec: 3 }],
    [
      'a hole in the samples while coasting',
      'free',
      { speed: still, bridge: () => BRIDGE.coast, time: i => i / RATE_HZ + (i > 200 ? 1 : 0) },
    ],
    [
      'a short hole while driving',
      'free',
      { speed: turning, time: i => i / RATE_HZ + (i > 200 ? 0.05 : 0) },
    ],
    [
      'gaps in the readings',
      'locked',
      { speed: t => (t > 0.1 && t < 0.2 ? Number.NaN : 0), amp: () => Number.NaN, volt: () => 6 },
    ],
    [
      'a steady resistance in noise',
      'locked',
      { volt: noisy(() => 6, 0.03), amp: noisy(() => 3, 0.03), speed: still, sec: 0.7 },
    ],
    [
      'a current that still rises',
      'locked',
      { volt: () => 6, amp: t => 3 * (1 - Math.exp(-t / 0.004)), speed: still, sec: 0.7 },
    ],
  ]
  test.each(cases)('%s', (_, shaft, course) => {
    expect(watched(planFor(shaft, 1.5), course)).toBeNull()
  })

  test('a plan that never drives, without a bridge column', () => {
    const plan: TestPlan = { ...planFor('any'), steps: [{ ...drive, bridge: 'coast', setVolt: 0 }] }
    const count = 3000
    const samples = {
      count,
      timeSec: Float64Array.from({ length: count }, (_, i) => i / RATE_HZ),
      bridge: null,
      voltage: null,
      current: null,
      speed: new Float64Array(count),
      position: null,
      temperature: null,
    }
    expect(watchSamples(newWatch(), samples, watchRules(plan))).toBeNull()
  })
})

test('trips once: after the first reason nothing more is reported', () => {
  const state = newWatch()
  const rules = watchRules(planFor('locked'))
  const count = 10
  const samples = {
    count,
    timeSec: Float64Array.from({ length: count }, (_, i) => i / RATE_HZ),
    bridge: null,
    voltage: null,
    current: new Float64Array(count).fill(9),
    speed: null,
    position: null,
    temperature: null,
  }
  expect(watchSamples(state, samples, rules)?.code).toBe('over-current')
  expect(watchSamples(state, samples, rules)).toBeNull()
})
