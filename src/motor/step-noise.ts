import type { MotorState } from './motor-state.ts'
import type { StepNoise } from './observer-gain.ts'
import type { ModelPoint } from './parameters.ts'
import { isOpen, type NoiseLevels, PHASE, type PreparedRun } from './prepared-run.ts'

/** Where nobody knows the load its power density is taken as that of this many amperes, squared. */
const UNKNOWN_TORQUE_SHARE = 1e6

/** Variances of step `k`'s inputs and readings at the motor and in the state in which the step begins. */
export function fillStepNoise(
  out: StepNoise,
  run: PreparedRun,
  k: number,
  noise: NoiseLevels,
  state: MotorState,
  point: ModelPoint,
): void {
  const { samples, durationSec } = run.classes[run.classOf[k]!]!
  const phase = run.phase[k]!
  const blank = phase === PHASE.blank
  const open = isOpen(phase)
  const fed = phase === PHASE.currentFed
  const turning = state.turning
  const emf = point.backEmfConstantVsPerRad * state.x[1]!
  const kt = point.torqueConstantNmPerA
  const winding = kt * (fed ? run.current[k]! : state.x[0]!)
  const current = noise.current * (turning || run.shaft === 'locked' ? noise.currentFactor : 1)
  const speed = noise.speed * (turning ? noise.speedFactor : 1)
  const doubt = run.edgeDoubt[k]! / (durationSec * durationSec)
  const ohmic = turning ? point.resistanceOhm * state.x[0]! : 0
  const ripple = noise.ripple * emf * emf + noise.resistanceRipple * ohmic * ohmic
  out.voltage = (noise.voltage + ripple) / samples + doubt
  out.torque = run.torqueUnknown
    ? UNKNOWN_TORQUE_SHARE * ((kt * kt) / durationSec)
    : (noise.torque + noise.torqueRipple * winding * winding) / durationSec +
      (fed ? (kt * kt * current) / samples : 0) +
      (run.loadTorque === null ? 0 : noise.loadTorque / samples)
  const measured1 = open ? run.voltage[k]! : run.current[k]!
  const has1 = Number.isFinite(measured1) && !fed && !blank
  const first = open ? noise.openVoltage + noise.openRipple * emf * emf : current
  out.reading1 = has1 ? first / samples : Infinity
  out.reading2 = Number.isFinite(run.speed[k]!) && !blank ? speed / samples : Infinity
}
