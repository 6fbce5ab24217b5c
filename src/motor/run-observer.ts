import { AngleTrail } from './angle-trail.ts'
import { BlockCache } from './block-cache.ts'
import { withBend } from './brush-drop.ts'
import { type Forcing, type Layout, MotorState } from './motor-state.ts'
import { ErrorCovariance, GAIN_SIZE, type StepNoise } from './observer-gain.ts'
import type { ModelPoint } from './parameters.ts'
import { addSlopeSums, clearSums, emptySums, type PassSums } from './pass-sums.ts'
import { isOpen, type NoiseLevels, PHASE, type PreparedRun, START } from './prepared-run.ts'
import { ReadingComparison } from './reading-comparison.ts'
import { CONDUCTING, type StepClass, TURNING } from './step-matrices.ts'
import { fillStepNoise } from './step-noise.ts'
import { crossTransitions, type Surroundings, transitionWithin } from './transitions.ts'
import { resistanceRatio } from './winding-temperature.ts'
import { WindingWarmth } from './winding-warmth.ts'

/** What all runs share besides the motor. */
export interface ObserverSetting {
  readonly referenceCelsius: number
  /** Relative change of both constants a kelvin of magnet temperature. */
  readonly magnetPerKelvin: number
}

export interface PassOptions {
  readonly slopes: boolean
  /** Whitened residuals beyond this count by their size instead of its square; Infinity: least squares. */
  readonly clip: number
  /** Keeps sums a cell of steps apart. */
  readonly cells: boolean
}

/**
 * Runs a motor model beside the measured run and compares: at each step the state is propagated from
 * the measured input, the readings are predicted, and the difference, whitened, is a residual; the
 * state is then corrected by a gain that weighs noise of the input against noise of the readings.
 * With white noises the residuals are independent: their squares are the likelihood.
 *
 * Gains are computed apart (`setGains`) and stay while the parameters move, so that the cost is a
 * plain sum of squares whose Jacobian is exact.
 */
export class RunObserver {
  readonly run: PreparedRun
  /** Readings predicted in the last pass, two a step: current (open terminals: voltage), then speed. */
  readonly predictions: Float64Array
  readonly total: PassSums
  /** ln of the run's resistance over the motor's: shaft angle and start temperature. */
  lnResistanceOffset = 0
  readonly cells: PassSums[] = []
  readonly layout: Layout

  private readonly setting: ObserverSetting
  private readonly state: MotorState
  private readonly cache: BlockCache
  private readonly covariance = new ErrorCovariance()
  private readonly comparison: ReadingComparison
  private readonly warmth = new WindingWarmth()
  private readonly forcing: Forcing = {
    voltage: 0,
    torque: 0,
    currentRipple: 0,
    fedCurrent: null,
  }
  private readonly stepNoise: StepNoise = { voltage: 0, torque: 0, reading1: 0, reading2: 0 }
  private readonly heats: boolean
  /** Only where speed readings reach back beyond a step. */
  private readonly trail: AngleTrail | null
  private readonly slopeBefore: Float64Array
  /** Current at which the terminals were opened and time since, until they are seen open. */
  private openedAmp = 0
  private blankSec = 0
  private lastMotor: ModelPoint | null = null
  private lastOffset = 0
  private lastPoint: ModelPoint | null = null

  constructor(run: PreparedRun, layout: Layout, setting: ObserverSetting) {
    this.run = run
    this.layout = layout
    this.setting = setting
    this.state = new MotorState(layout, run.switching)
    this.cache = new BlockCache(run.classes, this.state.matrixCoordinates, layout.tied)
    this.comparison = new ReadingComparison(run, this.state, layout)
    this.predictions = new Float64Array(2 * run.stepCount)
    const { coordinates } = layout
    this.heats = coordinates.includes('heating') || coordinates.includes('cooling')
    this.total = emptySums(coordinates.length)
    const looksBack = run.classes.some(step => step.trail !== null)
    this.trail = looksBack ? new AngleTrail(coordinates.length) : null
    this.slopeBefore = new Float64Array(coordinates.length)
  }

  /** Gains a step, as the last `setGains` left them. */
  get gains(): Float64Array {
    return this.comparison.gains
  }

  /** Whitened residuals, two a step, of the last pass. */
  get residuals(): Float64Array {
    return this.comparison.residuals
  }

  /** Gains for a point and noise levels; returns Σ ln det S and Σ z² there. */
  setGains(point: ModelPoint, noise: NoiseLevels, clip: number) {
    this.covariance.begin()
    this.pass(point, { slopes: false, clip, cells: false }, noise)
    return {
      logDeterminant: this.covariance.logDeterminant,
      readings: this.covariance.readings,
      cost: this.total.cost,
    }
  }

  /** Residuals and their sums at a point, with the gains last set. */
  evaluate(point: ModelPoint, options: PassOptions): PassSums {
    this.pass(point, options, null)
    return this.total
  }

  private pass(motor: ModelPoint, options: PassOptions, noise: NoiseLevels | null): void {
    const { run, setting, state, cache, forcing, covariance, comparison, total, predictions } = this
    const { slopes, clip } = options
    const point = this.pointOf(motor)
    const { reading, readingSlope1, readingSlope2 } = state
    this.clear(options.cells)
    cache.begin(point)
    state.begin(point)
    state.inertiaShare = motor.inertiaKgM2 / point.inertiaKgM2
    const trail = this.trail
    trail?.clear()
    const startRatio = resistanceRatio(run.startCelsius, setting.referenceCelsius)
    this.warmth.begin(startRatio)
    const warms = this.heats || point.heatingPerA2s > 0
    let ohm = point.resistanceOhm * startRatio
    let phaseBefore = -1
    let lastCell = 0

    for (let k = 0; k < run.stepCount; k++) {
      const phase = run.phase[k]!
      const classIndex = run.classOf[k]!
      const step = run.classes[classIndex]!
      const around = surroundingsOf(run.shaft === 'locked', phase)
      const open = isOpen(phase)
      const start = run.start[k]!
      if (start !== START.goesOn) {
        this.begin(k, start, noise)
        trail?.clear()
        phaseBefore = -1
      }
      this.setForcing(k, phase, point)
      if (warms) {
        ohm = this.warmth.step(point, run.heat[k]!, step.durationSec)
        state.heatingSlope = this.warmth.heatingSlope
        state.coolingSlope = this.warmth.coolingSlope
      }
      if (phase !== phaseBefore) this.enterPhase(phase)
      phaseBefore = phase
      if (open) this.followOpening(phase, step.durationSec, point)
      this.enterModes(around, point)

      if (state.conducting) this.chooseResistance(ohm, state.x[0]!)
      const at = cache.find(state.mode, classIndex)
      reading[0] = 0
      reading[1] = 0
      if (slopes) {
        readingSlope1.fill(0)
        readingSlope2.fill(0)
      }
      if (noise !== null) {
        fillStepNoise(this.stepNoise, run, k, noise, state, point)
        covariance.step(
          cache.data,
          at,
          open,
          open ? point.backEmfConstantVsPerRad : 1,
          this.stepNoise,
          step.trail === null
            ? Number.POSITIVE_INFINITY
            : step.durationSec / step.trail.apertureSec,
          comparison.gains,
          GAIN_SIZE * k,
        )
      }

      const speedBefore = state.x[1]!
      if (trail !== null && slopes) this.slopeBefore.set(state.slopeW)
      const end = state.predict(cache.data, at, forcing)
      const passes = transitionWithin(state, point, forcing, around, end[0]!, end[1]!) !== null
      const parts = state.partsFor(end[0]!)
      if (parts > 1) {
        this.stepInParts(k, parts, point, ohm, around, slopes)
      } else if (passes) {
        const { coordinates } = this.layout
        crossTransitions(state, cache, point, coordinates, step, forcing, around, slopes)
      } else state.finish(cache.data, at, open, 1, 1, slopes)
      if (passes && !state.turning) covariance.speedKnown()
      if (passes && !state.conducting) covariance.currentKnown()
      if (trail !== null) this.followAngle(trail, step, speedBefore, slopes)

      predictions[2 * k] = reading[0]!
      predictions[2 * k + 1] = reading[1]!
      lastCell = run.cellOf[k]!
      const sums = options.cells ? this.cells[lastCell]! : total
      comparison.compare(k, point, clip, total, slopes ? sums : null)
      if (!Number.isFinite(total.cost)) break
    }
    if (options.cells && slopes) {
      for (let c = 0; c <= lastCell; c++) addSlopeSums(total, this.cells[c]!)
    }
  }

  private clear(withCells: boolean): void {
    this.openedAmp = 0
    clearSums(this.total)
    if (!withCells) return
    for (const sums of this.cells) clearSums(sums)
    const p = this.layout.coordinates.length
    while (this.cells.length < this.run.spanOfCell.length) this.cells.push(emptySums(p))
  }

  private setForcing(k: number, phase: number, point: ModelPoint): void {
    const { run, forcing } = this
    forcing.voltage = phase === PHASE.driven ? run.voltage[k]! - point.voltageZeroVolt : 0
    forcing.torque =
      point.offsetTorqueNm + run.loadTorqueNm + (run.loadTorque === null ? 0 : run.loadTorque[k]!)
    forcing.currentRipple = run.currentRipple[k]!
    forcing.fedCurrent = phase === PHASE.currentFed ? run.current[k]! - point.currentZeroAmp : null
  }

  /** Where nobody drives the winding it has no current. */
  private enterPhase(phase: number): void {
    const { state } = this
    if (phase === PHASE.driven) return
    if (state.conducting) {
      this.openedAmp = state.x[0]!
      this.blankSec = 0
      this.covariance.currentKnown()
    }
    state.setCurrent(0)
  }

  /** How much the freewheeling current still turned the shaft is not known. */
  private followOpening(phase: number, durationSec: number, point: ModelPoint): void {
    if (phase === PHASE.blank) {
      this.blankSec += durationSec
      return
    }
    if (this.openedAmp === 0) return
    const { torqueConstantNmPerA, inertiaKgM2 } = point
    const kick = (torqueConstantNmPerA * this.openedAmp * this.blankSec) / inertiaKgM2
    this.covariance.speed += kick * kick
    this.openedAmp = 0
  }

  /** Current that begins to flow and a shaft that breaks away at the start of a step. */
  private enterModes({ driven, locked }: Surroundings, point: ModelPoint): void {
    const { state, forcing } = this
    if (driven && !state.conducting) {
      const across = forcing.voltage - point.backEmfConstantVsPerRad * state.x[1]!
      const blocked = point.brushKneeAmp === 0 && Math.abs(across) <= point.brushDropVolt
      if (!blocked || point.brushDropVolt === 0) {
        state.mode |= CONDUCTING
        state.polarity = across < 0 ? -1 : 1
      }
    }
    if (!state.turning && !locked) {
      const torque = state.breakAwayTorque(state.x[0]!, forcing)
      if (Math.abs(torque) > point.coulombTorqueNm + point.staticExcessNm) {
        state.mode |= TURNING
        state.direction = torque < 0 ? -1 : 1
      }
    }
  }

  /**
   * Blocks whose resistance takes in that of the source and the slope of the brush drop from the present
   * current to another; `excessOhm` takes out what is not the winding's.
   */
  private chooseResistance(ohm: number, endCurrent: number): void {
    const { state, cache } = this
    cache.setResistance(ohm + this.run.sourceOhm + state.drop.ohm(state.x[0]!, endCurrent))
    state.drop.excessOhm = ohm - cache.blockOhm
    state.resistanceShare = ohm / cache.blockOhm
  }

  /** The same object for the same motor, so that the blocks of the last pass can be used again. */
  private pointOf(motor: ModelPoint): ModelPoint {
    if (motor !== this.lastMotor || this.lnResistanceOffset !== this.lastOffset) {
      this.lastMotor = motor
      this.lastOffset = this.lnResistanceOffset
      const point = atRun(motor, this.run, this.setting, this.lnResistanceOffset)
      this.lastPoint = withBend(point, this.run.switching)
    }
    return this.lastPoint!
  }

  /** A step in equal parts, each with its own value of what is not linear. */
  private stepInParts(
    k: number,
    count: number,
    point: ModelPoint,
    ohm: number,
    around: Surroundings,
    slopes: boolean,
  ): void {
    const { state, cache, forcing } = this
    const classIndex = this.run.classOf[k]!
    const parts = cache.partsOf(classIndex, count)
    for (let n = 0; n < parts.length; n++) {
      const { step, weights } = parts[n]!
      this.chooseResistance(ohm, state.x[0]!)
      let at = cache.findPart(state.mode, classIndex, count, n)
      let end = state.predict(cache.data, at, forcing)
      this.chooseResistance(ohm, end[0]!)
      at = cache.findPart(state.mode, classIndex, count, n)
      end = state.predict(cache.data, at, forcing)
      if (transitionWithin(state, point, forcing, around, end[0]!, end[1]!) !== null) {
        const { coordinates } = this.layout
        crossTransitions(state, cache, point, coordinates, step, forcing, around, slopes, weights)
      } else {
        const first = around.open ? weights.openVoltage : weights.current
        state.finish(cache.data, at, around.open, first, weights.speed, slopes)
      }
    }
  }

  /** Keeps the angle up to date and, where the speed reading is a mean over more than the step, reads it. */
  private followAngle(
    trail: AngleTrail,
    step: StepClass,
    speedBefore: number,
    slopes: boolean,
  ): void {
    const { state, slopeBefore } = this
    const back = step.speed.lagSec / step.durationSec
    const mean = state.reading[1]! + back * (state.x[1]! - speedBefore)
    if (slopes) {
      for (let j = 0; j < slopeBefore.length; j++) {
        slopeBefore[j] = state.readingSlope2[j]! + back * (state.slopeW[j]! - slopeBefore[j]!)
      }
    }
    trail.add(step.durationSec, mean, slopes ? slopeBefore : null)
    if (step.trail !== null) {
      state.reading[1] = trail.read(step.trail, slopes ? state.readingSlope2 : null)
    }
  }

  /** States at the first step of a stretch. */
  private begin(k: number, start: number, noise: NoiseLevels | null): void {
    const { run, state, covariance } = this
    state.setCurrent(0)
    state.setStill()
    if (start === START.atRest) {
      covariance.known()
      return
    }
    const speed = firstReading(run, run.speed, k)
    const current = run.current[k]!
    const locked = run.shaft === 'locked'
    if (!locked && Number.isFinite(speed) && speed !== 0) {
      state.mode |= TURNING
      state.direction = Math.sign(speed)
      state.x[1] = speed
    }
    if (run.phase[k] === PHASE.driven && Number.isFinite(current)) {
      state.mode |= CONDUCTING
      state.polarity = current < 0 ? -1 : 1
      state.x[0] = current
    }
    if (noise !== null) {
      const spread = DOUBT * DOUBT
      covariance.unknown(
        state.conducting ? spread * noise.current : 0,
        locked ? 0 : Number.isFinite(speed) ? spread * noise.speed : Infinity,
      )
    }
  }
}

/** First reading of a channel at or soon after the start of a stretch; NaN where there is none. */
function firstReading(run: PreparedRun, values: Float64Array, start: number): number {
  for (let k = start; k < Math.min(run.stepCount, start + LOOK_AHEAD); k++) {
    if (k > start && run.start[k] !== START.goesOn) break
    if (Number.isFinite(values[k]!)) return values[k]!
  }
  return Number.NaN
}

const LOOK_AHEAD = 64

/** The first reading of a stretch says its state, but its own noise is in it: doubt it this much. */
const DOUBT = 1e3
const FREE_DRIVEN: Surroundings = { driven: true, locked: false, open: false }
const FREE_OPEN: Surroundings = { driven: false, locked: false, open: true }
const FREE_FED: Surroundings = { driven: false, locked: false, open: false }
const LOCKED_DRIVEN: Surroundings = { driven: true, locked: true, open: false }
const LOCKED_OPEN: Surroundings = { driven: false, locked: true, open: true }

function surroundingsOf(locked: boolean, phase: number): Surroundings {
  const driven = phase === PHASE.driven
  if (locked) return driven ? LOCKED_DRIVEN : LOCKED_OPEN
  if (driven) return FREE_DRIVEN
  return phase === PHASE.currentFed ? FREE_FED : FREE_OPEN
}

/** The motor as it is in a run: its resistance offset, its magnets' temperature, what the bench adds. */
function atRun(
  motor: ModelPoint,
  run: PreparedRun,
  setting: ObserverSetting,
  lnResistanceOffset: number,
): ModelPoint {
  const flux = 1 + setting.magnetPerKelvin * (run.magnetCelsius - setting.referenceCelsius)
  return {
    ...motor,
    resistanceOhm: motor.resistanceOhm * Math.exp(lnResistanceOffset),
    backEmfConstantVsPerRad: motor.backEmfConstantVsPerRad * flux,
    torqueConstantNmPerA: motor.torqueConstantNmPerA * flux,
    inertiaKgM2: motor.inertiaKgM2 + run.added.inertiaKgM2,
    coulombTorqueNm: motor.coulombTorqueNm + run.added.coulombNm,
    viscousNmsPerRad: motor.viscousNmsPerRad + run.added.viscousNmsPerRad,
  }
}
