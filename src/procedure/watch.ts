import { BRIDGE } from '../records/recording.ts'
import type { TestPlan } from './test-plan.ts'
import { type Trip, tripOf } from './trip.ts'
import {
  newThermometer,
  thermometerPulseStarts,
  thermometerSample,
  type WindingThermometer,
} from './winding-thermometer.ts'
import {
  newWindingWatch,
  type WindingWatch,
  windingPulseStarts,
  windingSample,
} from './winding-watch.ts'

/** Samples as they arrive, in SI; null where the rig has no such channel. Buffers may be reused. */
export interface WatchedSamples {
  readonly count: number
  readonly timeSec: Float64Array
  /** `BRIDGE` codes; null: drive wherever the plan drives at all. */
  readonly bridge: Uint8Array | null
  readonly voltage: Float64Array | null
  readonly current: Float64Array | null
  readonly speed: Float64Array | null
  readonly position: Float64Array | null
  readonly temperature: Float64Array | null
}

/** What the watch enforces on every sample. From `watchRules`. */
export interface WatchRules {
  readonly plan: TestPlan
  readonly drives: boolean
  readonly currentAmp: number
  readonly speedRadPerSec: number
  readonly stallSec: number
  /** Longest time without samples while driving. */
  readonly blindSec: number
  /** Longest time without any sign of life from the rig. */
  readonly silentSec: number
  readonly busVolt: number
}

/** Changed in place: the watch runs on every sample and allocates nothing. */
export interface WatchState {
  tripped: boolean
  lastSec: number
  driving: boolean
  /** Start of the window in which the shaft has to turn, and what it turned since. */
  windowSec: number
  travelRad: number
  lastRad: number
  turnedOnce: boolean
  overCurrent: number
  overSpeed: number
  startCelsius: number
  readonly winding: WindingWatch
  readonly thermometer: WindingThermometer
}

/** Consecutive samples above a limit before the host acts: noise alone does not. */
const CONSECUTIVE = 3
const BLIND_SEC = 0.1
const SILENT_SEC = 0.25
/** A clamp and the shaft's twist give way by less; a slipping one does not stop there. */
const SLIP_RAD = 0.15
/** Turning means at least this angle in every window. */
const TURNING_RAD = 0.2
/** A free shaft that is driven has to turn within this time. */
const NO_MOTION_SEC = 0.5
const DEFAULT_STALL_SEC = 1

export function watchRules(plan: TestPlan): WatchRules {
  const limits = plan.guard?.limits
  return {
    plan,
    drives: plan.steps.some(step => step.bridge === 'drive'),
    currentAmp: limits?.currentAmp ?? Math.max(...plan.steps.map(step => step.currentLimitAmp)),
    speedRadPerSec: limits?.speedRadPerSec ?? Number.POSITIVE_INFINITY,
    stallSec: limits?.stallSec ?? DEFAULT_STALL_SEC,
    blindSec: BLIND_SEC,
    silentSec: SILENT_SEC,
    busVolt: limits?.busVolt ?? Number.POSITIVE_INFINITY,
  }
}

export function newWatch(): WatchState {
  return {
    tripped: false,
    lastSec: Number.NaN,
    driving: false,
    windowSec: Number.NaN,
    travelRad: 0,
    lastRad: Number.NaN,
    turnedOnce: false,
    overCurrent: 0,
    overSpeed: 0,
    startCelsius: Number.NaN,
    winding: newWindingWatch(),
    thermometer: newThermometer(),
  }
}

/** Looks at every sample; the first reason to open the bridge, once, or null. */
export function watchSamples(
  state: WatchState,
  samples: WatchedSamples,
  rules: WatchRules,
): Trip | null {
  for (let i = 0; i < samples.count && !state.tripped; i++) {
    const trip = watchSample(state, samples, i, rules)
    if (trip) {
      state.tripped = true
      return trip
    }
  }
  return null
}

function watchSample(
  state: WatchState,
  samples: WatchedSamples,
  i: number,
  rules: WatchRules,
): Trip | null {
  const timeSec = samples.timeSec[i]!
  const blind = followTime(state, samples, i, rules)
  if (blind) return blind
  if (samples.current) {
    const amp = Math.abs(samples.current[i]!)
    state.overCurrent = amp > rules.currentAmp ? state.overCurrent + 1 : 0
    if (state.overCurrent >= CONSECUTIVE) {
      return tripOf('over-current', timeSec, amp, rules.currentAmp)
    }
  }
  if (samples.speed) {
    const speed = Math.abs(samples.speed[i]!)
    state.overSpeed = speed > rules.speedRadPerSec ? state.overSpeed + 1 : 0
    if (state.overSpeed >= CONSECUTIVE) {
      return tripOf('over-speed', timeSec, speed, rules.speedRadPerSec)
    }
  }
  return watchShaft(state, samples, timeSec, rules) ?? watchHeat(state, samples, i, rules)
}

/** Bridge edges, gaps in time, and the angle turned since the last sample. */
function followTime(
  state: WatchState,
  samples: WatchedSamples,
  i: number,
  rules: WatchRules,
): Trip | null {
  const timeSec = samples.timeSec[i]!
  const gap = timeSec - state.lastSec
  const driving = samples.bridge ? samples.bridge[i] === BRIDGE.drive : rules.drives
  state.lastSec = timeSec
  if (driving && state.driving && gap > rules.blindSec) {
    return tripOf('samples-lost', timeSec, gap, rules.blindSec)
  }
  if (driving && !state.driving) {
    restartWindow(state, timeSec)
    state.turnedOnce = false
    windingPulseStarts(state.winding, timeSec)
    thermometerPulseStarts(state.thermometer, timeSec)
  }
  state.driving = driving
  if (samples.position) {
    const rad = samples.position[i]!
    if (!Number.isNaN(state.lastRad) && !Number.isNaN(rad)) state.travelRad += rad - state.lastRad
    if (!Number.isNaN(rad)) state.lastRad = rad
  } else if (samples.speed && gap < rules.blindSec) {
    const step = samples.speed[i]! * gap
    if (!Number.isNaN(step)) state.travelRad += step
  }
  return null
}

function restartWindow(state: WatchState, timeSec: number): void {
  state.windowSec = timeSec
  state.travelRad = 0
}

function watchShaft(
  state: WatchState,
  samples: WatchedSamples,
  timeSec: number,
  { plan, stallSec }: WatchRules,
): Trip | null {
  if (!state.driving || (!samples.speed && !samples.position)) return null
  const travel = Math.abs(state.travelRad)
  if (plan.shaft === 'locked') {
    if (travel > SLIP_RAD) return tripOf('slip', timeSec, travel, SLIP_RAD)
    const elapsed = timeSec - state.windowSec
    return elapsed > stallSec ? tripOf('stalled', timeSec, elapsed, stallSec) : null
  }
  const elapsed = timeSec - state.windowSec
  if (travel > TURNING_RAD) {
    state.turnedOnce = true
    restartWindow(state, timeSec)
    return null
  }
  const noMotionSec = Math.min(NO_MOTION_SEC, stallSec)
  if (plan.shaft === 'free' && !state.turnedOnce && elapsed > noMotionSec) {
    return tripOf('no-motion', timeSec, elapsed, noMotionSec)
  }
  return elapsed > stallSec ? tripOf('stalled', timeSec, elapsed, stallSec) : null
}

function watchHeat(
  state: WatchState,
  samples: WatchedSamples,
  i: number,
  { plan }: WatchRules,
): Trip | null {
  const { guard } = plan
  if (!guard) return null
  const timeSec = samples.timeSec[i]!
  const allowed = guard.allowedMeanRiseKelvin
  if (samples.temperature) {
    const celsius = samples.temperature[i]!
    if (Number.isNaN(state.startCelsius)) state.startCelsius = celsius
    const rise = celsius - state.startCelsius
    if (rise > allowed) return tripOf('over-temperature', timeSec, rise, allowed)
  }
  if (plan.shaft !== 'locked' || !state.driving || !samples.voltage || !samples.current) return null
  const volt = samples.voltage[i]!
  const amp = samples.current[i]!
  if (Number.isNaN(volt) || Number.isNaN(amp)) return null
  const { thermometer } = guard
  const rise = thermometer
    ? thermometerSample(state.thermometer, guard, thermometer, timeSec, volt, amp)
    : windingSample(state.winding, guard, timeSec, volt, amp)
  return rise > allowed ? tripOf('over-temperature', timeSec, rise, allowed) : null
}

/** The bus voltage comes from the rig's status, not with the samples. */
export function watchBus(
  state: WatchState,
  timeSec: number,
  busVolt: number,
  rules: WatchRules,
): Trip | null {
  if (state.tripped || !(busVolt > rules.busVolt)) return null
  state.tripped = true
  return tripOf('bus-voltage', timeSec, busVolt, rules.busVolt)
}

/** `quietSec`: by the host's clock, since anything valid came from the rig. */
export function watchSilence(state: WatchState, quietSec: number, rules: WatchRules): Trip | null {
  if (state.tripped || !(quietSec > rules.silentSec)) return null
  state.tripped = true
  return tripOf('link-silent', Number.NaN, quietSec, rules.silentSec)
}
