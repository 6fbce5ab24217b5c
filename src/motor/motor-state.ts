import type { Switching } from './brush-drop.ts'
import {
  BACK_EMF,
  COOLING,
  COULOMB,
  CURRENT_ZERO,
  DIFFERENCE,
  DROP,
  HEATING,
  INDUCTANCE,
  INERTIA,
  INPUT_KIND,
  KNEE,
  OFFSET,
  RESISTANCE,
  TORQUE,
  VOLTAGE_ZERO,
  WINDAGE,
} from './input-kinds.ts'
import type { Coordinate, ModelPoint } from './parameters.ts'
import { StepDrop } from './step-drop.ts'
import {
  AT,
  CONDUCTING,
  DIFFERENTIATED,
  MATRIX_COORDINATES,
  type MatrixCoordinate,
  TURNING,
  VALUES,
} from './step-matrices.ts'

/** Which derivatives are carried, and how the coordinates act. */
export interface Layout {
  readonly coordinates: readonly Coordinate[]
  /** The torque constant follows the back-EMF constant. */
  readonly tied: boolean
}

/** What acts on the motor during a step, before drop and friction. */
export interface Forcing {
  /** Terminal voltage, its zero taken off. */
  voltage: number
  /** Load and offset torque. */
  torque: number
  /** Variance of the current's ripple about its mean over the step. */
  currentRipple: number
  /** Current that is an input rather than a state; null while the winding is a state. */
  fedCurrent: number | null
}

/**
 * State of one motor with its derivatives along the layout's coordinates, and how it moves over one
 * step inside one mode. Transitions are `crossTransitions`' part.
 *
 * Windage and the tanh drop are smooth: they act as inputs held at their value in the middle of the
 * step, and their slope is carried in the derivatives.
 */
export class MotorState {
  /** Current and speed. */
  readonly x = new Float64Array(2)
  readonly slopeI: Float64Array
  readonly slopeW: Float64Array
  mode = 0
  /** Sense of rotation and of the current while they last: +1 or −1. */
  direction = 1
  polarity = 1

  /** Readings of the step, current or open voltage first, then speed; with derivatives. */
  readonly reading = new Float64Array(2)
  readonly readingSlope1: Float64Array
  readonly readingSlope2: Float64Array

  readonly matrixCoordinates: readonly MatrixCoordinate[]
  readonly drop: StepDrop
  /** Ratio of the winding's resistance to that of the step's block. */
  resistanceShare = 1
  /** ∂ln R/∂heating and ∂ln R/∂cooling at this moment. */
  heatingSlope = 0
  coolingSlope = 0
  /** The motor's own part of the inertia that turns. */
  inertiaShare = 1

  private readonly layout: Layout
  private readonly count: number
  private readonly matrixOf: Int8Array
  private readonly kindOf: Uint8Array
  private readonly inputV: Float64Array
  private readonly inputT: Float64Array
  /** Inputs of the step in progress, and the slopes of what in them depends on the state. */
  private readonly u = new Float64Array(2)
  private readonly next = new Float64Array(2)
  private dragSlope = 0
  private middleSpeed = 0
  private fed = 0
  private isFed = false
  private point!: ModelPoint

  constructor(layout: Layout, switching: Switching | null) {
    this.layout = layout
    this.drop = new StepDrop(switching)
    this.count = layout.coordinates.length
    this.slopeI = new Float64Array(this.count)
    this.slopeW = new Float64Array(this.count)
    this.readingSlope1 = new Float64Array(this.count)
    this.readingSlope2 = new Float64Array(this.count)
    this.inputV = new Float64Array(this.count)
    this.inputT = new Float64Array(this.count)
    const wanted = new Set<Coordinate>(layout.coordinates)
    if (wanted.has('heating') || wanted.has('cooling')) wanted.add('lnResistance')
    this.matrixCoordinates = MATRIX_COORDINATES.filter(c => wanted.has(c))
    this.matrixOf = Int8Array.from(layout.coordinates, c =>
      this.matrixCoordinates.indexOf(
        (c === 'heating' || c === 'cooling' ? 'lnResistance' : c) as MatrixCoordinate,
      ),
    )
    this.kindOf = Uint8Array.from(layout.coordinates, c => INPUT_KIND[c] ?? 0)
  }

  begin(point: ModelPoint): void {
    this.point = point
    this.drop.begin(point)
    this.mode = 0
    this.setStill()
    this.setCurrent(0)
  }

  get conducting(): boolean {
    return (this.mode & CONDUCTING) !== 0
  }

  get turning(): boolean {
    return (this.mode & TURNING) !== 0
  }

  setStill(): void {
    this.mode &= ~TURNING
    this.x[1] = 0
    this.slopeW.fill(0)
  }

  /** The winding stops conducting, or holds a current that no coordinate moves. */
  setCurrent(amp: number): void {
    if (amp === 0) this.mode &= ~CONDUCTING
    this.x[0] = amp
    this.slopeI.fill(0)
  }

  /** Torque that would turn a shaft at rest: winding less load and offset. */
  breakAwayTorque(current: number, forcing: Forcing): number {
    return this.point.torqueConstantNmPerA * (forcing.fedCurrent ?? current) - forcing.torque
  }

  /** End of the step if it stays inside the mode: current in [0], speed in [1] of the result. */
  predict(block: Float64Array, at: number, forcing: Forcing): Float64Array {
    const { point, u, next } = this
    const i = this.x[0]!
    const w = this.x[1]!
    const p = at + AT.phi
    const g = at + AT.gamma
    this.isFed = forcing.fedCurrent !== null
    this.fed = forcing.fedCurrent ?? 0
    let voltage = forcing.voltage
    let torque = point.torqueConstantNmPerA * this.fed - forcing.torque
    this.dragSlope = 0
    this.drop.none()
    if (this.turning) {
      torque -= this.direction * point.coulombTorqueNm
      const { windageNms2PerRad2: windage, viscousDifferenceNmsPerRad: difference } = point
      if (windage !== 0 || difference !== 0) {
        const drag = (speed: number) => Math.abs(speed) * (windage * speed + difference)
        const end =
          block[p + 2]! * i +
          block[p + 3]! * w +
          block[g + 2]! * voltage +
          block[g + 3]! * (torque - drag(w))
        this.middleSpeed = (w + end) / 2
        torque -= drag(this.middleSpeed)
        this.dragSlope =
          -2 * windage * Math.abs(this.middleSpeed) - difference * Math.sign(this.middleSpeed)
      } else this.middleSpeed = w
    }
    if (this.conducting) {
      const free = this.freeCurrent(block, at, voltage, torque)
      voltage -= this.drop.over(block, at, voltage, free, i, this.polarity, forcing.currentRipple)
    }
    u[0] = voltage
    u[1] = torque
    next[0] = block[p]! * i + block[p + 1]! * w + block[g]! * voltage + block[g + 1]! * torque
    next[1] =
      block[p + 2]! * i + block[p + 3]! * w + block[g + 2]! * voltage + block[g + 3]! * torque
    return next
  }

  /** Mean current of the step as it would be without a further drop. */
  private freeCurrent(block: Float64Array, at: number, voltage: number, torque: number): number {
    const m = at + AT.meanCurrent
    return (
      block[m]! * this.x[0]! +
      block[m + 1]! * this.x[1]! +
      block[m + 2]! * voltage +
      block[m + 3]! * torque
    )
  }

  /**
   * Adds the step's readings, times `weight`, to `reading`. `open`: the first reading is the open
   * terminals' voltage instead of the current. Call between `predict` and `commit`.
   */
  private read(
    block: Float64Array,
    at: number,
    open: boolean,
    weight1: number,
    weight2: number,
  ): void {
    const { reading, u } = this
    const i = this.x[0]!
    const w = this.x[1]!
    const c1 = at + (open ? AT.openSpeed : AT.current)
    const c2 = at + AT.speed
    const factor = weight1 * (open ? this.point.backEmfConstantVsPerRad : 1)
    reading[0]! +=
      factor *
      (block[c1]! * i + block[c1 + 1]! * w + block[c1 + 2]! * u[0]! + block[c1 + 3]! * u[1]!)
    reading[1]! +=
      weight2 *
      (block[c2]! * i + block[c2 + 1]! * w + block[c2 + 2]! * u[0]! + block[c2 + 3]! * u[1]!)
  }

  /** Into how many parts the bend of the brush drop asks a step to be divided; 1 where it is straight. */
  partsFor(endCurrent: number): number {
    return this.conducting ? this.drop.partsFor(this.x[0]!, endCurrent) : 1
  }

  /** Adds the readings of the last `predict` and moves to its end. */
  finish(
    block: Float64Array,
    at: number,
    open: boolean,
    weight1: number,
    weight2: number,
    withSlopes: boolean,
  ): void {
    if (withSlopes) this.readAndCommitWithSlopes(block, at, open, weight1, weight2)
    else {
      this.read(block, at, open, weight1, weight2)
      this.commit()
    }
  }

  /** Moves to the end of the step given by the last `predict`; values only. */
  private commit(): void {
    this.x[0] = this.next[0]!
    this.x[1] = this.next[1]!
  }

  /** As `read` and `commit`, with derivatives. */
  private readAndCommitWithSlopes(
    block: Float64Array,
    at: number,
    open: boolean,
    weight1: number,
    weight2: number,
  ): void {
    this.read(block, at, open, weight1, weight2)
    this.fillInputSlopes()
    const { slopeI, slopeW, inputV, inputT, matrixOf, readingSlope1, readingSlope2 } = this
    const i = this.x[0]!
    const w = this.x[1]!
    const u0 = this.u[0]!
    const u1 = this.u[1]!
    const { dragSlope } = this
    const dropSlope = this.drop.slopeOhm
    const p0 = block[at]!
    const p1 = block[at + 1]!
    const p2 = block[at + 2]!
    const p3 = block[at + 3]!
    const g0 = block[at + 4]!
    const g1 = block[at + 5]!
    const g2 = block[at + 6]!
    const g3 = block[at + 7]!
    const r1 = at + (open ? AT.openSpeed : AT.current)
    const a0 = block[r1]!
    const a1 = block[r1 + 1]!
    const a2 = block[r1 + 2]!
    const a3 = block[r1 + 3]!
    const r2 = at + AT.speed
    const b0 = block[r2]!
    const b1 = block[r2 + 1]!
    const b2 = block[r2 + 2]!
    const b3 = block[r2 + 3]!
    const m = at + AT.meanCurrent
    const f1 = weight1 * (open ? this.point.backEmfConstantVsPerRad : 1)
    const openShift = open ? AT.openSpeed - AT.current : 0
    for (let j = 0; j < this.count; j++) {
      const si = slopeI[j]!
      const sw = slopeW[j]!
      let dv = inputV[j]!
      const dt = inputT[j]! + dragSlope * sw
      if (dropSlope !== 0) {
        const mean = block[m]! * si + block[m + 1]! * sw + block[m + 2]! * dv + block[m + 3]! * dt
        dv += (dropSlope * mean) / (1 - block[m + 2]! * dropSlope)
      }
      let ni = p0 * si + p1 * sw + g0 * dv + g1 * dt
      let nw = p2 * si + p3 * sw + g2 * dv + g3 * dt
      let y1 = a0 * si + a1 * sw + a2 * dv + a3 * dt
      let y2 = b0 * si + b1 * sw + b2 * dv + b3 * dt
      const q = matrixOf[j]!
      if (q >= 0) {
        const f = this.shareOf(this.kindOf[j]!)
        const d = at + VALUES + DIFFERENTIATED * q
        ni += f * (block[d]! * i + block[d + 1]! * w + block[d + 4]! * u0 + block[d + 5]! * u1)
        nw += f * (block[d + 2]! * i + block[d + 3]! * w + block[d + 6]! * u0 + block[d + 7]! * u1)
        const e = d + AT.current + openShift
        y1 += f * (block[e]! * i + block[e + 1]! * w + block[e + 2]! * u0 + block[e + 3]! * u1)
        const h = d + AT.speed
        y2 += f * (block[h]! * i + block[h + 1]! * w + block[h + 2]! * u0 + block[h + 3]! * u1)
      }
      slopeI[j] = ni
      slopeW[j] = nw
      readingSlope1[j]! += f1 * y1
      readingSlope2[j]! += weight2 * y2
    }
    this.commit()
  }

  /** Factor on a block's derivative: what the coordinate moves of the block's own quantity. */
  private shareOf(kind: number): number {
    switch (kind) {
      case RESISTANCE:
        return this.resistanceShare
      case HEATING:
        return this.resistanceShare * this.heatingSlope
      case COOLING:
        return this.resistanceShare * this.coolingSlope
      case INERTIA:
        return this.inertiaShare
      default:
        return 1
    }
  }

  /** ∂u along each coordinate, the state held. */
  private fillInputSlopes(): void {
    const { kindOf, inputV, inputT, point } = this
    const { middle } = this.drop
    const bends = this.conducting && point.brushKneeAmp > 0
    for (let j = 0; j < this.count; j++) {
      let dv = 0
      let dt = 0
      switch (kindOf[j]) {
        case DROP:
          if (this.conducting) dv = bends ? -middle.share : -this.polarity
          break
        case KNEE:
          dv = bends ? -middle.byLnKnee : 0
          break
        case INDUCTANCE:
          dv = bends ? -middle.byLnInductance : 0
          break
        case COULOMB:
          if (this.turning) dt = -this.direction
          break
        case OFFSET:
          dt = -1
          break
        case WINDAGE:
          if (this.turning) dt = -this.middleSpeed * Math.abs(this.middleSpeed)
          break
        case DIFFERENCE:
          if (this.turning) dt = -Math.abs(this.middleSpeed)
          break
        case VOLTAGE_ZERO:
          dv = -1
          break
        case CURRENT_ZERO:
          if (this.isFed) dt = -point.torqueConstantNmPerA
          break
        case BACK_EMF:
          if (this.layout.tied) dt = point.torqueConstantNmPerA * this.fed
          break
        case TORQUE:
          dt = point.torqueConstantNmPerA * this.fed
          break
      }
      inputV[j] = dv
      inputT[j] = dt
    }
  }
}
