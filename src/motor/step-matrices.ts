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

/** What the linear part of a step depends on besides the resistance. */
export interface LinearMotor {
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
/** For each coordinate ∂A (4) and ∂B (2). */
const slopes = new Float64Array(6 * MATRIX_COORDINATES.length)
const atEnd = new Float64Array(EXPONENTIAL_SIZE)
const windowEnd = new Float64Array(EXPONENTIAL_SIZE)
const windowStart = new Float64Array(EXPONENTIAL_SIZE)
const mean = new Float64Array(EXPONENTIAL_SIZE)

/** A and B of dx/dt = A x + B u in a mode; what a mode rules out is zero. */
export function continuousSystem(
  motor: LinearMotor,
  resistanceOhm: number,
  mode: number,
  a: Float64Array,
  b: Float64Array,
): void {
  const conducts = (mode & CONDUCTING) !== 0
  const turns = (mode & TURNING) !== 0
  const { inductanceHenry, inertiaKgM2 } = motor
  a[0] = conducts ? -resistanceOhm / inductanceHenry : 0
  a[1] = conducts && turns ? -motor.backEmfConstantVsPerRad / inductanceHenry : 0
  a[2] = conducts && turns ? motor.torqueConstantNmPerA / inertiaKgM2 : 0
  a[3] = turns ? -motor.viscousNmsPerRad / inertiaKgM2 : 0
  b[0] = conducts ? 1 / inductanceHenry : 0
  b[1] = turns ? 1 / inertiaKgM2 : 0
}

/**
 * Writes a step's block at `at`: values, then a derivative of the first `DIFFERENTIATED` numbers for
 * each of `coordinates`. Where `tied`, the derivative along `lnBackEmf` moves both constants.
 */
export function fillStepBlock(
  motor: LinearMotor,
  resistanceOhm: number,
  mode: number,
  step: StepClass,
  coordinates: readonly MatrixCoordinate[],
  tied: boolean,
  out: Float64Array,
  at: number,
): void {
  const count = coordinates.length
  continuousSystem(motor, resistanceOhm, mode, system, drive)
  for (let q = 0; q < count; q++) fillSlopes(motor, mode, coordinates[q]!, tied, 6 * q)
  exponentialWithIntegrals(system, step.durationSec, atEnd, count > 0)
  writeRow(atEnd, 0, out, at + AT.phi, at + AT.gamma, count)
  writeRow(atEnd, 2, out, at + AT.phi + 2, at + AT.gamma + 2, count)
  fillReading(step, step.current, 0, AT.current, count, out, at)
  fillReading(step, step.speed, 1, AT.speed, count, out, at)
  fillReading(step, step.openVoltage, 1, AT.openSpeed, count, out, at)
  fillMeanCurrent(step.durationSec, out, at)
}

/** As `fillStepBlock` for the values that say where a step ends, and no more. */
export function fillEndBlock(
  motor: LinearMotor,
  resistanceOhm: number,
  mode: number,
  durationSec: number,
  out: Float64Array,
  at: number,
): void {
  continuousSystem(motor, resistanceOhm, mode, system, drive)
  exponentialWithIntegrals(system, durationSec, atEnd, false)
  writeRow(atEnd, 0, out, at + AT.phi, at + AT.gamma, 0)
  writeRow(atEnd, 2, out, at + AT.phi + 2, at + AT.gamma + 2, 0)
  fillMeanCurrent(durationSec, out, at)
}

function fillMeanCurrent(durationSec: number, out: Float64Array, at: number): void {
  if (durationSec === 0) {
    for (let i = 0; i < 4; i++) out[at + AT.meanCurrent + i] = i === 0 ? 1 : 0
    return
  }
  for (let i = 0; i < 2; i++) {
    out[at + AT.meanCurrent + i] = atEnd[4 + i]! / durationSec
    out[at + AT.meanCurrent + 2 + i] = (atEnd[8 + i]! / durationSec) * drive[i]!
  }
}

/** One reading: row `row` of the state at a moment, or of its mean over a window. */
function fillReading(
  step: StepClass,
  window: Window,
  row: number,
  offset: number,
  count: number,
  out: Float64Array,
  at: number,
): void {
  const { fromSec, toSec, lagSec } = window
  const span = toSec - fromSec
  let source = atEnd
  if (toSec !== step.durationSec) {
    exponentialWithIntegrals(system, toSec, windowEnd, count > 0)
    source = windowEnd
  }
  // The mean of Φ is a difference of F, that of F a difference of G: one place further on.
  const shift = span > 0 ? 4 : 0
  if (span > 0) {
    // F and G are zero at the start of the step.
    if (fromSec === 0) windowStart.fill(0)
    else exponentialWithIntegrals(system, fromSec, windowStart, count > 0)
    const size = count > 0 ? EXPONENTIAL_SIZE : 12
    for (let i = 0; i < size; i++) mean[i] = (source[i]! - windowStart[i]!) / span
    source = mean
  }
  writeRow(source, shift + 2 * row, out, at + offset, at + offset + 2, count)
  if (lagSec !== 0) moveBack(lagSec / step.durationSec, row, offset, count, out, at)
}

/** Takes `share` of the step's change of state row `row` off a reading. */
function moveBack(
  share: number,
  row: number,
  offset: number,
  count: number,
  out: Float64Array,
  at: number,
): void {
  for (let q = -1; q < count; q++) {
    const block = q < 0 ? at : at + VALUES + DIFFERENTIATED * q
    for (let i = 0; i < 2; i++) {
      out[block + offset + i]! -= share * out[block + AT.phi + 2 * row + i]!
      out[block + offset + 2 + i]! -= share * out[block + AT.gamma + 2 * row + i]!
    }
  }
  out[at + offset + row]! += share
}

/** One row of Φ-like and of Γ-like numbers, with the derivatives of both. */
function writeRow(
  from: Float64Array,
  row: number,
  out: Float64Array,
  phiAt: number,
  gammaAt: number,
  count: number,
): void {
  for (let i = 0; i < 2; i++) {
    out[phiAt + i] = from[row + i]!
    out[gammaAt + i] = from[row + 4 + i]! * drive[i]!
  }
  for (let q = 0; q < count; q++) {
    const to = VALUES + DIFFERENTIATED * q
    for (let i = 0; i < 2; i++) {
      let dPhi = 0
      let dIntegral = 0
      for (let e = 0; e < 4; e++) {
        const slope = slopes[6 * q + e]!
        if (slope === 0) continue
        dPhi += slope * from[12 * (e + 1) + row + i]!
        dIntegral += slope * from[12 * (e + 1) + row + 4 + i]!
      }
      out[phiAt + to + i] = dPhi
      out[gammaAt + to + i] = dIntegral * drive[i]! + from[row + 4 + i]! * slopes[6 * q + 4 + i]!
    }
  }
}

/** ∂A and ∂B along a coordinate, from `at` in `slopes`. */
function fillSlopes(
  motor: LinearMotor,
  mode: number,
  coordinate: MatrixCoordinate,
  tied: boolean,
  at: number,
): void {
  slopes.fill(0, at, at + 6)
  switch (coordinate) {
    case 'lnResistance':
      slopes[at] = system[0]!
      return
    case 'lnInductance':
      slopes[at] = -system[0]!
      slopes[at + 1] = -system[1]!
      slopes[at + 4] = -drive[0]!
      return
    case 'lnBackEmf':
      slopes[at + 1] = system[1]!
      if (tied) slopes[at + 2] = system[2]!
      return
    case 'lnTorque':
      slopes[at + 2] = system[2]!
      return
    case 'lnInertia':
      slopes[at + 2] = -system[2]!
      slopes[at + 3] = -system[3]!
      slopes[at + 5] = -drive[1]!
      return
    case 'viscous':
      if ((mode & TURNING) !== 0) slopes[at + 3] = -1 / motor.inertiaKgM2
      return
  }
}
