import { EXPONENTIAL_SIZE, exponentialWithIntegrals } from '../numerics/matrix-exponential.ts'
import type { Coordinate } from './parameters.ts'

/**
 * Exact discretisation of one step inside one mode. With x = (i, ω) and inputs u = (voltage, torque)
 * held over the step,
 *   x⁺ = Φ x + Γ u,   reading = C x + D u,
 * where a reading is the value at one moment of the step or the mean over a window in it.
 */

/** Whether the winding conducts and whether the shaft turns: the four linear systems of the motor. */
export const CONDUCTING = 1
export const TURNING = 2

/**
 * Span of a reading, seconds from the start of its step; equal ends for a single moment.
 * `lagSec` moves it back by the step's mean slope, where it reaches beyond the step's start:
 *   reading = mean over the span − lag (x(end) − x(start)) / duration.
 */
export interface Window {
  readonly fromSec: number
  readonly toSec: number
  readonly lagSec: number
}

/** What steps of one class share. */
export interface StepClass {
  readonly durationSec: number
  /** Samples whose mean stands in the step's readings. */
  readonly samples: number
  readonly current: Window
  readonly speed: Window
  /** Of the terminal voltage while the terminals are open. */
  readonly openVoltage: Window
  /** The speed reading's window reaches back before the step: see `AngleTrail`. */
  readonly trail: SpeedTrail | null
}

/** A speed reading that is the mean over a time longer than a step. */
export interface SpeedTrail {
  readonly apertureSec: number
  readonly delaySec: number
}

/** Coordinates on which Φ and Γ depend; the others act through the inputs alone. */
export const MATRIX_COORDINATES = [
  'lnResistance',
  'lnInductance',
  'lnBackEmf',
  'lnTorque',
  'lnInertia',
  'viscous',
] as const satisfies readonly Coordinate[]

export type MatrixCoordinate = (typeof MATRIX_COORDINATES)[number]

/** What the linear part of a step depends on; resistance at the temperature of the step. */
export interface LinearMotor {
  readonly resistanceOhm: number
  readonly inductanceHenry: number
  readonly backEmfConstantVsPerRad: number
  readonly torqueConstantNmPerA: number
  readonly inertiaKgM2: number
  readonly viscousNmsPerRad: number
}

/** Offsets into one step's block: Φ, Γ, then (C, D) of current, speed, open voltage, row by row. */
export const AT = {
  phi: 0,
  gamma: 4,
  current: 8,
  speed: 12,
  openSpeed: 16,
  meanCurrent: 20,
} as const
/** Numbers that have derivatives, and that have none (the mean current, for the brush drop). */
export const DIFFERENTIATED = 20
export const VALUES = 24

export const blockSize = (coordinates: number) => VALUES + DIFFERENTIATED * coordinates

const system = new Float64Array(4)
const drive = new Float64Array(2)
const systemSlope = new Float64Array(4)
const driveSlope = new Float64Array(2)
const atEnd = new Float64Array(EXPONENTIAL_SIZE)
const windowEnd = new Float64Array(EXPONENTIAL_SIZE)
const windowStart = new Float64Array(EXPONENTIAL_SIZE)
const mean = new Float64Array(EXPONENTIAL_SIZE)

/** A and B of dx/dt = A x + B u in a mode; what a mode rules out is zero. */
export function continuousSystem(
  motor: LinearMotor,
  mode: number,
  a: Float64Array,
  b: Float64Array,
): void {
  const conducts = (mode & CONDUCTING) !== 0
  const turns = (mode & TURNING) !== 0
  a[0] = conducts ? -motor.resistanceOhm / motor.inductanceHenry : 0
  a[1] = conducts && turns ? -motor.backEmfConstantVsPerRad / motor.inductanceHenry : 0
  a[2] = conducts && turns ? motor.torqueConstantNmPerA / motor.inertiaKgM2 : 0
  a[3] = turns ? -motor.viscousNmsPerRad / motor.inertiaKgM2 : 0
  b[0] = conducts ? 1 / motor.inductanceHenry : 0
  b[1] = turns ? 1 / motor.inertiaKgM2 : 0
}

/**
 * Writes a step's block at `at`: values, then a derivative of the first `DIFFERENTIATED` numbers for
 * each of `coordinates`. Where `tied`, the derivative along `lnBackEmf` moves both constants.
 */
export function fillStepBlock(
  motor: LinearMotor,
  mode: number,
  step: StepClass,
  coordinates: readonly MatrixCoordinate[],
  tied: boolean,
  out: Float64Array,
  at: number,
): void {
  const slopes = coordinates.length > 0
  continuousSystem(motor, mode, system, drive)
  exponentialWithIntegrals(system, step.durationSec, atEnd, slopes)
  for (let i = 0; i < 4; i++) out[at + AT.phi + i] = atEnd[i]!
  for (let i = 0; i < 4; i++) out[at + AT.gamma + i] = atEnd[4 + i]! * drive[i & 1]!
  coordinates.forEach((coordinate, q) => {
    slopeOf(motor, mode, coordinate, tied)
    const to = at + VALUES + DIFFERENTIATED * q
    writeSlope(atEnd, 0, 0, out, to + AT.phi, out, to + AT.gamma)
    writeSlope(atEnd, 0, 2, out, to + AT.phi + 2, out, to + AT.gamma + 2)
  })
  fillReading(
    motor,
    mode,
    step.durationSec,
    step.current,
    0,
    AT.current,
    coordinates,
    tied,
    out,
    at,
  )
  fillReading(motor, mode, step.durationSec, step.speed, 1, AT.speed, coordinates, tied, out, at)
  fillReading(
    motor,
    mode,
    step.durationSec,
    step.openVoltage,
    1,
    AT.openSpeed,
    coordinates,
    tied,
    out,
    at,
  )
  const whole = step.durationSec
  for (let i = 0; i < 2; i++) {
    out[at + AT.meanCurrent + i] = atEnd[4 + i]! / whole
    out[at + AT.meanCurrent + 2 + i] = (atEnd[8 + i]! / whole) * drive[i]!
  }
}

/** One reading: row `row` of the state at a moment, or of its mean over a window. */
function fillReading(
  motor: LinearMotor,
  mode: number,
  durationSec: number,
  window: Window,
  row: number,
  offset: number,
  coordinates: readonly MatrixCoordinate[],
  tied: boolean,
  out: Float64Array,
  at: number,
): void {
  const slopes = coordinates.length > 0
  const { fromSec, toSec } = window
  const span = toSec - fromSec
  let source = atEnd
  if (toSec !== durationSec) {
    exponentialWithIntegrals(system, toSec, windowEnd, slopes)
    source = windowEnd
  }
  // The mean of Φ is a difference of F, that of F a difference of G: one place further on.
  const shift = span > 0 ? 4 : 0
  if (span > 0) {
    // F and G are zero at the start of the step.
    if (fromSec === 0) windowStart.fill(0)
    else exponentialWithIntegrals(system, fromSec, windowStart, slopes)
    for (let i = 0; i < EXPONENTIAL_SIZE; i++) mean[i] = (source[i]! - windowStart[i]!) / span
    source = mean
  }
  for (let i = 0; i < 2; i++) {
    out[at + offset + i] = source[shift + 2 * row + i]!
    out[at + offset + 2 + i] = source[shift + 4 + 2 * row + i]! * drive[i]!
  }
  coordinates.forEach((coordinate, q) => {
    slopeOf(motor, mode, coordinate, tied)
    const to = at + VALUES + DIFFERENTIATED * q + offset
    writeSlope(source, shift, 2 * row, out, to, out, to + 2)
  })
  if (window.lagSec !== 0) moveBack(window.lagSec / durationSec, row, offset, coordinates, out, at)
}

/** Takes `share` of the step's change of state row `row` off a reading. */
function moveBack(
  share: number,
  row: number,
  offset: number,
  coordinates: readonly MatrixCoordinate[],
  out: Float64Array,
  at: number,
): void {
  for (let q = -1; q < coordinates.length; q++) {
    const block = q < 0 ? at : at + VALUES + DIFFERENTIATED * q
    for (let i = 0; i < 2; i++) {
      out[block + offset + i]! -= share * out[block + AT.phi + 2 * row + i]!
      out[block + offset + 2 + i]! -= share * out[block + AT.gamma + 2 * row + i]!
    }
  }
  out[at + offset + row]! += share
}

/** One row of dΦ and dΓ along the direction in `systemSlope`, `driveSlope`. */
function writeSlope(
  from: Float64Array,
  shift: number,
  row: number,
  phi: Float64Array,
  phiAt: number,
  gamma: Float64Array,
  gammaAt: number,
): void {
  for (let i = 0; i < 2; i++) {
    let dPhi = 0
    let dIntegral = 0
    for (let e = 0; e < 4; e++) {
      const s = systemSlope[e]!
      if (s === 0) continue
      dPhi += s * from[12 * (e + 1) + shift + row + i]!
      dIntegral += s * from[12 * (e + 1) + shift + 4 + row + i]!
    }
    phi[phiAt + i] = dPhi
    gamma[gammaAt + i] = dIntegral * drive[i]! + from[shift + 4 + row + i]! * driveSlope[i]!
  }
}

/** ∂A and ∂B along a coordinate, into `systemSlope` and `driveSlope`. */
function slopeOf(
  motor: LinearMotor,
  mode: number,
  coordinate: MatrixCoordinate,
  tied: boolean,
): void {
  systemSlope.fill(0)
  driveSlope.fill(0)
  switch (coordinate) {
    case 'lnResistance':
      systemSlope[0] = system[0]!
      return
    case 'lnInductance':
      systemSlope[0] = -system[0]!
      systemSlope[1] = -system[1]!
      driveSlope[0] = -drive[0]!
      return
    case 'lnBackEmf':
      systemSlope[1] = system[1]!
      if (tied) systemSlope[2] = system[2]!
      return
    case 'lnTorque':
      systemSlope[2] = system[2]!
      return
    case 'lnInertia':
      systemSlope[2] = -system[2]!
      systemSlope[3] = -system[3]!
      driveSlope[1] = -drive[1]!
      return
    case 'viscous':
      if ((mode & TURNING) !== 0) systemSlope[3] = -1 / motor.inertiaKgM2
      return
  }
}
