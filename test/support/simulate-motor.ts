import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { PLAIN_TRAITS, type Recording } from '../../src/records/recording.ts'
import type { TestKind } from '../../src/records/test-kind.ts'
import {
  type TestConditions,
  type TestRun,
  UNKNOWN_CONDITIONS,
} from '../../src/records/test-run.ts'

/** The textbook motor with constant parameters, SI. */
export interface IdealMotor {
  readonly ohm: number
  readonly henry: number
  readonly k: number
  readonly dropVolt: number
  readonly coulomb: number
  readonly viscous: number
  readonly windage: number
  readonly inertia: number
}

export interface IdealStep {
  readonly bridge: 'drive' | 'coast'
  readonly volt: number
  readonly sec: number
}

export interface SimulationChoices {
  readonly locked: boolean
  readonly noise: { readonly volt: number; readonly amp: number; readonly radPerSec: number }
  readonly seed: number
  /** Leaves this column out. */
  readonly without: readonly ('voltage' | 'current' | 'speed')[]
}

/**
 * A recording of the ideal motor as another laboratory might make it: samples at the instant, no bridge column,
 * no channel traits. Integrated by the midpoint rule in fine steps of its own, which share nothing with the
 * program under test.
 */
export function simulateMotor(
  motor: IdealMotor,
  steps: readonly IdealStep[],
  rateHz: number,
  choices: Partial<SimulationChoices> = {},
): Recording {
  const locked = choices.locked ?? false
  const normal = seededNormal(seededUniform(choices.seed ?? 1))
  const noise = choices.noise ?? { volt: 0, amp: 0, radPerSec: 0 }
  const total = steps.reduce((sum, step) => sum + Math.round(step.sec * rateHz), 0)
  const columns = {
    voltage: new Float64Array(total),
    current: new Float64Array(total),
    speed: new Float64Array(total),
  }
  const timeSec = Float64Array.from({ length: total }, (_, n) => n / rateHz)
  const fine = Math.max(10, Math.ceil((40 * motor.ohm) / motor.henry / rateHz))
  const dt = 1 / rateHz / fine
  let amp = 0
  let speed = 0
  let n = 0
  for (const step of steps) {
    for (let sample = 0; sample < Math.round(step.sec * rateHz); sample++, n++) {
      const open = step.bridge === 'coast'
      if (open) amp = 0
      columns.voltage[n] = (open ? motor.k * speed : step.volt) + noise.volt * normal()
      columns.current[n] = amp + noise.amp * normal()
      columns.speed[n] = speed + noise.radPerSec * normal()
      for (let f = 0; f < fine; f++) {
        const half = advance(motor, locked, open, step.volt, amp, speed, amp, speed, dt / 2)
        ;[amp, speed] = advance(motor, locked, open, step.volt, amp, speed, half[0], half[1], dt)
      }
    }
  }
  const kept = Object.fromEntries(
    Object.entries(columns).filter(([name]) => !choices.without?.includes(name as 'speed')),
  )
  return {
    sampleCount: total,
    timeSec,
    columns: kept,
    bridge: null,
    edges: [],
    traits: Object.fromEntries(Object.keys(kept).map(name => [name, PLAIN_TRAITS])),
  }
}

/** From (amp, speed) over dt with the slopes at (atAmp, atSpeed). */
function advance(
  motor: IdealMotor,
  locked: boolean,
  open: boolean,
  volt: number,
  amp: number,
  speed: number,
  atAmp: number,
  atSpeed: number,
  dt: number,
): [number, number] {
  const drop = motor.dropVolt * Math.sign(atAmp || volt)
  const rise = open ? 0 : (volt - motor.ohm * atAmp - motor.k * atSpeed - drop) / motor.henry
  const torque = open ? 0 : motor.k * atAmp
  const fluid = motor.viscous * atSpeed + motor.windage * atSpeed * Math.abs(atSpeed)
  const still = Math.abs(atSpeed) < 1e-9
  const dry = still
    ? Math.max(-motor.coulomb, Math.min(motor.coulomb, torque))
    : motor.coulomb * Math.sign(atSpeed)
  let next = locked ? 0 : speed + ((torque - dry - fluid) / motor.inertia) * dt
  // Dry friction brings the shaft to rest and holds it there; it never turns it round.
  if (speed !== 0 && next * speed < 0 && Math.abs(torque) <= motor.coulomb) next = 0
  return [open ? 0 : amp + rise * dt, next]
}

/** Typical proportions of a motor of a power, from common practice (no source), for tests over sizes. */
export function typicalMotor(
  watt: number,
  volt: number,
  spread: () => number = () => 0.5,
): IdealMotor {
  const vary = (factor: number) => factor ** (2 * spread() - 1)
  const ohm = ((0.35 * volt * volt) / (4 * watt)) * vary(1.5)
  const speed = 1000 * watt ** -0.2 * vary(1.6)
  const k = (0.9 * volt) / speed
  const stall = (k * volt) / ohm
  const tauMech = 0.02 * watt ** 0.15 * vary(2)
  return {
    ohm,
    henry: ohm * 5e-4 * watt ** 0.2 * vary(2),
    k,
    dropVolt: 0.03 * volt * vary(2),
    coulomb: 0.02 * stall * vary(2),
    viscous: ((0.01 * stall) / speed) * vary(2),
    windage: ((0.003 * stall) / speed ** 2) * vary(2),
    inertia: (tauMech * k * k) / ohm,
  }
}

export function asRun(
  id: number,
  kind: TestKind,
  recording: Recording,
  conditions: Partial<TestConditions> = {},
): TestRun {
  return { id, kind, recording, conditions: { ...UNKNOWN_CONDITIONS, ...conditions } }
}

/** A hand-read table as a run. */
export function asTable(
  id: number,
  kind: TestKind,
  columns: Recording['columns'],
  conditions: Partial<TestConditions> = {},
): TestRun {
  const sampleCount = Object.values(columns)[0]!.length
  return asRun(
    id,
    kind,
    { sampleCount, timeSec: null, columns, bridge: null, edges: [], traits: {} },
    conditions,
  )
}

/** Locked rotor, free run, run-up and coast-down of one motor, each long enough to settle. */
export function textbookRuns(
  motor: IdealMotor,
  volt: number,
  rateHz: number,
  choices: Partial<SimulationChoices> = {},
): TestRun[] {
  const tauE = motor.henry / motor.ohm
  const tauM = (motor.inertia * motor.ohm) / motor.k ** 2
  const settle = 10 * tauM + 0.15
  const pulse = Math.max(0.02, 15 * tauE)
  const off = (sec: number): IdealStep => ({ bridge: 'drive', volt: 0, sec })
  const on = (share: number, sec: number): IdealStep => ({
    bridge: 'drive',
    volt: share * volt,
    sec,
  })
  const top = (motor.k * volt) / motor.ohm
  const speed = volt / motor.k
  const stop = Math.min(4, (motor.inertia * speed) / motor.coulomb)
  const seed = choices.seed ?? 1
  const record = (n: number, steps: IdealStep[], locked = false) =>
    simulateMotor(motor, steps, rateHz, { ...choices, locked, seed: 10 * seed + n })
  if (!(top > motor.coulomb))
    throw new RangeError(`coulomb = ${motor.coulomb}; must be below ${top}`)
  return [
    asRun(
      1,
      'locked-rotor',
      record(
        1,
        [off(0.01), ...[0.2, 0.4, -0.2, -0.4].flatMap(s => [on(s, pulse), off(pulse)])],
        true,
      ),
    ),
    asRun(
      2,
      'free-run',
      record(
        2,
        [0.3, 0.5, 0.75, 1].map(share => on(share, settle)),
      ),
    ),
    asRun(3, 'run-up', record(3, [off(0.02), on(1, settle)])),
    asRun(4, 'coast-down', record(4, [on(1, settle), { bridge: 'coast', volt: 0, sec: stop }])),
  ]
}
