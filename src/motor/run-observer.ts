import { triangleSize } from '../numerics/symmetric.ts'
import { AngleTrail } from './angle-trail.ts'
import { BlockCache } from './block-cache.ts'
import { withBend } from './brush-drop.ts'
import { type Forcing, type Layout, MotorState } from './motor-state.ts'
import { ErrorCovariance, GAIN_SIZE, type StepNoise } from './observer-gain.ts'
import type { ModelPoint } from './parameters.ts'
import { type NoiseLevels, PHASE, type PreparedRun, START } from './prepared-run.ts'
import { CONDUCTING, type StepClass, TURNING } from './step-matrices.ts'
import { crossTransitions, type Surroundings, transitionWithin } from './transitions.ts'
import { resistanceRatio } from './winding-temperature.ts'

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

/** Sums over a run, of whitened innovations z with Jacobian Z = ∂z/∂θ. */
export interface PassSums {
  /** Σ z² (clipped: 2 ρ(z)). */
  cost: number
  readings: number
  clipped: number
  /** Σ Zᵀ z, and the lower triangle of Σ Zᵀ Z, row by row. */
  readonly gradient: Float64Array
  readonly information: Float64Array
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
  readonly gains: Float64Array
  /** Whitened residuals, two a step, of the last pass. */
  readonly residuals: Float64Array
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
  private readonly forcing: Forcing = {
    voltage: 0,
    torque: 0,
    currentRipple: 0,
    fedCurrent: null,
  }
  private readonly backEmfColumn: number
  private readonly firstZeroColumn: Readonly<Record<'voltage' | 'current', number>>
  private readonly speedZeroColumn: number
  private readonly heats: boolean
  /** Only where speed readings reach back beyond a step. */
  private readonly trail: AngleTrail | null
  private readonly slopeBefore: Float64Array
  private lastMotor: ModelPoint | null = null
  private lastOffset = 0
  private lastPoint: ModelPoint | null = null

  constructor(run: PreparedRun, layout: Layout, setting: ObserverSetting) {
    this.run = run
    this.layout = layout
    this.setting = setting
    this.state = new MotorState(layout, run.switching)
    this.cache = new BlockCache(run.classes, this.state.matrixCoordinates, layout.tied)
    this.gains = new Float64Array(GAIN_SIZE * run.stepCount)
    this.residuals = new Float64Array(2 * run.stepCount)
    this.predictions = new Float64Array(2 * run.stepCount)
    const column = (name: (typeof layout.coordinates)[number]) => layout.coordinates.indexOf(name)
    this.backEmfColumn = column('lnBackEmf')
    this.firstZeroColumn = { voltage: column('voltageZero'), current: column('currentZero') }
    this.speedZeroColumn = column('speedZero')
    this.heats = column('heating') >= 0 || column('cooling') >= 0
    const p = layout.coordinates.length
    this.total = emptySums(p)
    this.trail = run.classes.some(step => step.trail !== null) ? new AngleTrail(p) : null
    this.slopeBefore = new Float64Array(p)
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
    const {
      run,
      setting,
      state,
      cache,
      forcing,
      covariance,
      total,
      gains,
      residuals,
      predictions,
    } = this
    const { slopes } = options
    const point = this.pointOf(motor)
    const { coordinates } = this.layout
    const p = coordinates.length
    clearSums(total)
    if (options.cells) {
      for (const sums of this.cells) clearSums(sums)
      while (this.cells.length < run.spanOfCell.length) this.cells.push(emptySums(p))
    }
    const stepNoise: StepNoise = { voltage: 0, torque: 0, reading1: 0, reading2: 0 }
    cache.begin(point)
    state.begin(point)
    state.inertiaShare = motor.inertiaKgM2 / point.inertiaKgM2
    const trail = this.trail
    trail?.clear()
    const startRatio = resistanceRatio(run.startCelsius, setting.referenceCelsius)
    let ratio = startRatio
    let ratioByHeating = 0
    let ratioByCooling = 0
    const warms = this.heats || point.heatingPerA2s > 0
    let ohm = point.resistanceOhm * ratio
    const slope1 = state.readingSlope1
    const slope2 = state.readingSlope2
    let phaseBefore = -1
    let blankSec = 0
    let currentBefore = 0
    let cell = 0
    const clip = options.clip

    for (let k = 0; k < run.stepCount; k++) {
      const phase = run.phase[k]!
      const classIndex = run.classOf[k]!
      const step = run.classes[classIndex]!
      const driven = phase === PHASE.driven
      const open = phase === PHASE.open || phase === PHASE.blank
      const fed = phase === PHASE.currentFed
      const around: Surroundings =
        run.shaft === 'locked'
          ? driven
            ? LOCKED_DRIVEN
            : LOCKED_OPEN
          : driven
            ? FREE_DRIVEN
            : open
              ? FREE_OPEN
              : FREE_FED
      const start = run.start[k]!
      if (start !== START.goesOn) {
        this.begin(k, start, noise)
        trail?.clear()
        phaseBefore = -1
      }

      // Inputs of the step.
      forcing.voltage = driven ? run.voltage[k]! - point.voltageZeroVolt : 0
      forcing.torque =
        point.offsetTorqueNm + run.loadTorqueNm + (run.loadTorque === null ? 0 : run.loadTorque[k]!)
      forcing.currentRipple = run.currentRipple[k]!
      forcing.fedCurrent = fed ? run.current[k]! - point.currentZeroAmp : null

      if (warms) {
        const heat = run.heat[k]!
        const loss = point.coolingPerSec * step.durationSec
        const factor = Math.exp(point.heatingPerA2s * heat - loss)
        ratioByHeating = ratioByHeating * factor + ratio * heat
        ratioByCooling = ratioByCooling * factor - (ratio - startRatio) * step.durationSec
        const before = ratio
        ratio = ratio * factor + loss * startRatio
        state.heatingSlope = ratioByHeating / ratio
        state.coolingSlope = ratioByCooling / ratio
        ohm = (point.resistanceOhm * (before + ratio)) / 2
      }

      // Mode at the start of the step.
      if (phase !== phaseBefore) {
        if (!driven && state.conducting) {
          currentBefore = state.x[0]!
          blankSec = 0
          state.setCurrent(0)
          covariance.currentKnown()
        } else if (!driven) state.setCurrent(0)
        phaseBefore = phase
      }
      if (phase === PHASE.blank) blankSec += step.durationSec
      if (open && phase !== PHASE.blank && currentBefore !== 0) {
        // How much the freewheeling current still turned the shaft is not known.
        const kick = (point.torqueConstantNmPerA * currentBefore * blankSec) / point.inertiaKgM2
        covariance.speed += kick * kick
        currentBefore = 0
      }
      if (driven && !state.conducting) {
        const across = forcing.voltage - point.backEmfConstantVsPerRad * state.x[1]!
        const blocked = point.brushKneeAmp === 0 && Math.abs(across) <= point.brushDropVolt
        if (!blocked || point.brushDropVolt === 0) {
          state.mode |= CONDUCTING
          state.polarity = across < 0 ? -1 : 1
        }
      }
      if (!state.turning && !around.locked) {
        const torque = state.breakAwayTorque(state.x[0]!, forcing)
        if (Math.abs(torque) > point.coulombTorqueNm + point.staticExcessNm) {
          state.mode |= TURNING
          state.direction = torque < 0 ? -1 : 1
        }
      }

      if (state.conducting) this.chooseResistance(ohm, state.x[0]!)
      const at = cache.find(state.mode, classIndex)
      const { reading } = state
      reading[0] = 0
      reading[1] = 0
      if (slopes) {
        slope1.fill(0)
        slope2.fill(0)
      }

      if (noise !== null) {
        this.fillNoise(k, open, fed, noise, stepNoise, point)
        covariance.step(
          cache.data,
          at,
          open,
          open ? point.backEmfConstantVsPerRad : 1,
          stepNoise,
          step.trail === null
            ? Number.POSITIVE_INFINITY
            : step.durationSec / step.trail.apertureSec,
          gains,
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
        crossTransitions(state, cache, point, coordinates, step, forcing, around, slopes)
      } else state.finish(cache.data, at, open, 1, 1, slopes)
      if (passes && !state.turning) covariance.speedKnown()
      if (passes && !state.conducting) covariance.currentKnown()
      if (trail !== null) this.followAngle(trail, step, speedBefore, slopes)

      predictions[2 * k] = reading[0]!
      predictions[2 * k + 1] = reading[1]!

      // Innovations, whitened.
      const g = GAIN_SIZE * k
      const w11 = gains[g + 4]!
      const w22 = gains[g + 6]!
      if (w11 === 0 && w22 === 0) {
        residuals[2 * k] = 0
        residuals[2 * k + 1] = 0
      } else {
        const w21 = gains[g + 5]!
        const zero1 = open ? point.voltageZeroVolt : point.currentZeroAmp
        const measured1 = open ? run.voltage[k]! : run.current[k]!
        let n1 = w11 === 0 ? 0 : measured1 - zero1 - reading[0]!
        let n2 = w22 === 0 ? 0 : run.speed[k]! - point.speedZeroRadPerSec - reading[1]!
        let z1 = w11 * n1
        let z2 = w21 * n1 + w22 * n2
        residuals[2 * k] = z1
        residuals[2 * k + 1] = z2
        let weight1 = 1
        let weight2 = 1
        if (z1 > clip || z1 < -clip || z2 > clip || z2 < -clip) {
          weight1 = Math.min(1, clip / Math.abs(z1))
          weight2 = Math.min(1, clip / Math.abs(z2))
          total.cost += huberCost(z1, clip) + huberCost(z2, clip)
          total.clipped += (weight1 < 1 ? 1 : 0) + (weight2 < 1 ? 1 : 0)
          z1 *= weight1
          z2 *= weight2
          n1 = w11 === 0 ? 0 : z1 / w11
          n2 = w22 === 0 ? 0 : (z2 - w21 * n1) / w22
        } else total.cost += z1 * z1 + z2 * z2
        total.readings += (w11 === 0 ? 0 : 1) + (w22 === 0 ? 0 : 1)

        const k11 = gains[g]!
        const k12 = gains[g + 1]!
        const k21 = gains[g + 2]!
        const k22 = gains[g + 3]!
        if (state.conducting) state.x[0]! += k11 * n1 + k12 * n2
        if (state.turning) state.x[1]! += k21 * n1 + k22 * n2

        if (slopes) {
          if (open) {
            if (this.backEmfColumn >= 0) slope1[this.backEmfColumn]! += reading[0]!
            if (this.firstZeroColumn.voltage >= 0) slope1[this.firstZeroColumn.voltage]! += 1
          } else if (!fed && this.firstZeroColumn.current >= 0) {
            slope1[this.firstZeroColumn.current]! += 1
          }
          if (this.speedZeroColumn >= 0) slope2[this.speedZeroColumn]! += 1
          const sums = options.cells ? this.cells[run.cellOf[k]!]! : total
          const { gradient, information } = sums
          const { slopeI, slopeW } = state
          const conducting = state.conducting
          const turning = state.turning
          for (let j = 0; j < p; j++) {
            const d1 = slope1[j]!
            const d2 = slope2[j]!
            if (conducting) slopeI[j]! -= k11 * d1 + k12 * d2
            if (turning) slopeW[j]! -= k21 * d1 + k22 * d2
            // z = W (measured − predicted): its derivative is −W times that of the prediction.
            slope1[j] = -w11 * d1
            slope2[j] = -w21 * d1 - w22 * d2
          }
          let t = 0
          for (let j = 0; j < p; j++) {
            const a = slope1[j]! * weight1
            const b = slope2[j]! * weight2
            // z already carries its weight.
            gradient[j]! += slope1[j]! * z1 + slope2[j]! * z2
            for (let l = 0; l <= j; l++) information[t++]! += a * slope1[l]! + b * slope2[l]!
          }
          if (options.cells) {
            sums.readings += (w11 === 0 ? 0 : 1) + (w22 === 0 ? 0 : 1)
            sums.cost += z1 * z1 + z2 * z2
          }
        }
        // A correction may not turn the shaft round or reverse the current: that is a transition.
        if (state.turning && state.direction * state.x[1]! < 0) state.x[1] = 0
        if (
          state.conducting &&
          point.brushDropVolt > 0 &&
          point.brushKneeAmp === 0 &&
          state.polarity * state.x[0]! < 0
        ) {
          state.x[0] = 0
        }
      }
      cell = run.cellOf[k]!
      if (!Number.isFinite(total.cost)) break
    }
    if (options.cells && slopes) {
      for (let c = 0; c <= cell; c++) {
        const sums = this.cells[c]!
        for (let j = 0; j < p; j++) total.gradient[j]! += sums.gradient[j]!
        for (let t = 0; t < total.information.length; t++) {
          total.information[t]! += sums.information[t]!
        }
      }
    }
  }

  /**
   * Blocks whose resistance takes in that of the source and the slope of the brush drop from the present
   * current to another; `excessOhm` takes out what is not the winding's.
   */
  private chooseResistance(ohm: number, endCurrent: number): void {
    const { state, cache } = this
    cache.setResistance(ohm + this.run.sourceOhm + state.brushOhm(endCurrent))
    state.excessOhm = ohm - cache.blockOhm
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

  private fillNoise(
    k: number,
    open: boolean,
    fed: boolean,
    noise: NoiseLevels,
    out: StepNoise,
    point: ModelPoint,
  ): void {
    const { run, state } = this
    const step = run.classes[run.classOf[k]!]!
    const { samples, durationSec } = step
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
    const blank = run.phase[k] === PHASE.blank
    const has1 = Number.isFinite(measured1) && !fed && !blank
    const first = open ? noise.openVoltage + noise.openRipple * emf * emf : current
    out.reading1 = has1 ? first / samples : Infinity
    out.reading2 = Number.isFinite(run.speed[k]!) && !blank ? speed / samples : Infinity
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
/** Where nobody knows the load its power density is taken as that of this many amperes, squared. */
const UNKNOWN_TORQUE_SHARE = 1e6

const FREE_DRIVEN: Surroundings = { driven: true, locked: false, open: false }
const FREE_OPEN: Surroundings = { driven: false, locked: false, open: true }
const FREE_FED: Surroundings = { driven: false, locked: false, open: false }
const LOCKED_DRIVEN: Surroundings = { driven: true, locked: true, open: false }
const LOCKED_OPEN: Surroundings = { driven: false, locked: true, open: true }

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

function huberCost(z: number, clip: number): number {
  const size = Math.abs(z)
  return size <= clip ? z * z : clip * (2 * size - clip)
}

function emptySums(p: number): PassSums {
  return {
    cost: 0,
    readings: 0,
    clipped: 0,
    gradient: new Float64Array(p),
    information: new Float64Array(triangleSize(p)),
  }
}

function clearSums(sums: PassSums): void {
  sums.cost = 0
  sums.readings = 0
  sums.clipped = 0
  sums.gradient.fill(0)
  sums.information.fill(0)
}
