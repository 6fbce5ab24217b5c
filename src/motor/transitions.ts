import type { BlockCache } from './block-cache.ts'
import type { Forcing, MotorState } from './motor-state.ts'
import type { Coordinate, ModelPoint } from './parameters.ts'
import { CONDUCTING, type StepClass, TURNING } from './step-matrices.ts'
import { partOf, type ReadingWeights, WHOLE } from './step-parts.ts'

/** What a step's surroundings allow: transitions depend on it. */
export interface Surroundings {
  /** The voltage is an input: the winding conducts unless the drop blocks it. */
  readonly driven: boolean
  readonly locked: boolean
  /** The first reading is the open terminals' voltage. */
  readonly open: boolean
}

export type Transition = 'speed-zero' | 'current-zero' | 'break-away' | 'conduction'

/** To this share of a step the moment of a transition is located. */
const MOMENT_TOLERANCE = 1e-10
const MOST_STEPS = 60

/** More transitions than a motor can make in one step: the rest of the step is taken as it comes. */
const MOST_TRANSITIONS = 8

/** The transition that a step of this mode must contain if it ends with this current and speed. */
export function transitionWithin(
  state: MotorState,
  point: ModelPoint,
  forcing: Forcing,
  around: Surroundings,
  endCurrent: number,
  endSpeed: number,
): Transition | null {
  if (state.turning) {
    if (state.direction * endSpeed < 0) return 'speed-zero'
  } else if (!around.locked) {
    const torque = state.breakAwayTorque(endCurrent, forcing)
    if (Math.abs(torque) > point.coulombTorqueNm + point.staticExcessNm) return 'break-away'
  }
  if (around.driven && point.brushKneeAmp === 0 && point.brushDropVolt > 0) {
    if (state.conducting) {
      if (state.polarity * endCurrent < 0) return 'current-zero'
    } else {
      const across = forcing.voltage - point.backEmfConstantVsPerRad * endSpeed
      if (Math.abs(across) > point.brushDropVolt) return 'conduction'
    }
  }
  return null
}

/**
 * One step with transitions in it: each is located inside the step, the part before it propagated in
 * the old mode, the rest in the new one. Derivatives jump with the moment of the transition,
 *   ∂x⁺ = ∂x⁻ + (ẋ⁻ − ẋ⁺) ∂t*/
export function crossTransitions(
  state: MotorState,
  cache: BlockCache,
  point: ModelPoint,
  coordinates: readonly Coordinate[],
  step: StepClass,
  forcing: Forcing,
  around: Surroundings,
  withSlopes: boolean,
  weights: ReadingWeights = WHOLE,
): void {
  let at = 0
  for (let n = 0; ; n++) {
    const rest = step.durationSec - at
    const found = n < MOST_TRANSITIONS ? locate(state, cache, point, forcing, around, rest) : null
    const span = found === null ? rest : found.afterSec
    if (span > 0) {
      const part = partOf(step, at, span)
      cache.fillOnce(state.mode, part.step, withSlopes)
      state.predict(cache.data, 0, forcing)
      const first = around.open
        ? part.weights.openVoltage * weights.openVoltage
        : part.weights.current * weights.current
      const second = part.weights.speed * weights.speed
      state.finish(cache.data, 0, around.open, first, second, withSlopes)
    }
    if (found === null) return
    at += span
    pass(found.transition, state, cache, point, coordinates, forcing, around)
  }
}

function locate(
  state: MotorState,
  cache: BlockCache,
  point: ModelPoint,
  forcing: Forcing,
  around: Surroundings,
  restSec: number,
): { transition: Transition; afterSec: number } | null {
  const endAt = (seconds: number) => {
    cache.fillEnd(state.mode, seconds)
    return state.predict(cache.data, 0, forcing)
  }
  const passed = (seconds: number) => {
    const end = endAt(seconds)
    return transitionWithin(state, point, forcing, around, end[0]!, end[1]!)
  }
  let high = restSec
  let transition = passed(high)
  if (transition === null) return null
  // Found one; another may come before it: then the search goes on to that.
  for (;;) {
    const beyond = (seconds: number) => {
      const end = endAt(seconds)
      return excess(transition!, state, point, forcing, end[0]!, end[1]!)
    }
    const moment = firstRoot(beyond, high)
    const earlier = passed(moment * (1 - MOMENT_TOLERANCE) - MOMENT_TOLERANCE * restSec)
    if (earlier === null || earlier === transition || moment <= MOMENT_TOLERANCE * restSec) {
      return { transition, afterSec: moment }
    }
    high = moment
    transition = earlier
  }
}

/** How far a transition has been passed: negative before it, positive after. */
function excess(
  transition: Transition,
  state: MotorState,
  point: ModelPoint,
  forcing: Forcing,
  current: number,
  speed: number,
): number {
  switch (transition) {
    case 'speed-zero':
      return -state.direction * speed
    case 'current-zero':
      return -state.polarity * current
    case 'break-away': {
      const torque = Math.abs(state.breakAwayTorque(current, forcing))
      return torque - point.coulombTorqueNm - point.staticExcessNm
    }
    case 'conduction': {
      const across = forcing.voltage - point.backEmfConstantVsPerRad * speed
      return Math.abs(across) - point.brushDropVolt
    }
  }
}

/**
 * Root of a function that is positive at `high` and not at 0, by regula falsi that halves the weight of an
 * end which stays (Illinois); just before it, so that the mode still holds there.
 * Source: M. Dowell, P. Jarratt, BIT 11 (1971) 168 (from memory).
 */
function firstRoot(f: (t: number) => number, high: number): number {
  let low = 0
  let fLow = f(low)
  let fHigh = f(high)
  if (!(fLow < 0)) return 0
  let last = 0
  let right = high
  for (let n = 0; n < MOST_STEPS && right - low > MOMENT_TOLERANCE * high; n++) {
    const middle = (low * fHigh - right * fLow) / (fHigh - fLow)
    const value = f(middle)
    if (value > 0) {
      right = middle
      fHigh = value
      if (last > 0) fLow /= 2
      last = 1
    } else {
      low = middle
      fLow = value
      if (last < 0) fHigh /= 2
      last = -1
      if (value === 0) break
    }
  }
  return low
}

/** Changes the mode at the moment of a transition and lets the derivatives jump with it. */
function pass(
  transition: Transition,
  state: MotorState,
  cache: BlockCache,
  point: ModelPoint,
  coordinates: readonly Coordinate[],
  forcing: Forcing,
  around: Surroundings,
): void {
  const { x, slopeI, slopeW } = state
  const before = rates(state, cache, point, forcing)
  switch (transition) {
    case 'speed-zero': {
      x[1] = 0
      const torque = state.breakAwayTorque(x[0]!, forcing)
      const held = Math.abs(torque) <= point.coulombTorqueNm + point.staticExcessNm
      if (held || around.locked) {
        state.setStill()
        return
      }
      state.direction = Math.sign(torque)
      scale(slopeW, rates(state, cache, point, forcing).speed / before.speed)
      return
    }
    case 'current-zero': {
      const across = forcing.voltage - point.backEmfConstantVsPerRad * x[1]!
      if (Math.abs(across) <= point.brushDropVolt) {
        state.setCurrent(0)
        return
      }
      x[0] = 0
      state.polarity = Math.sign(across)
      scale(slopeI, rates(state, cache, point, forcing).current / before.current)
      return
    }
    case 'break-away': {
      const torque = state.breakAwayTorque(x[0]!, forcing)
      const sense = Math.sign(torque)
      state.mode |= TURNING
      state.direction = sense
      const after = rates(state, cache, point, forcing)
      const growth = sense * point.torqueConstantNmPerA * before.current
      coordinates.forEach((coordinate, j) => {
        const lead =
          sense *
            (point.torqueConstantNmPerA * slopeI[j]! + torqueSlope(coordinate, x[0]!, point)) -
          (coordinate === 'coulomb' || coordinate === 'staticExcess' ? 1 : 0)
        slopeW[j] = growth === 0 ? 0 : (after.speed * lead) / growth
      })
      return
    }
    case 'conduction':
      state.mode |= CONDUCTING
      state.polarity = Math.sign(forcing.voltage - point.backEmfConstantVsPerRad * x[1]!)
      return
    default:
      transition satisfies never
  }
}

function torqueSlope(coordinate: Coordinate, current: number, point: ModelPoint): number {
  if (coordinate === 'offset') return -1
  if (coordinate === 'lnTorque' || coordinate === 'lnBackEmf') {
    return point.torqueConstantNmPerA * current
  }
  return 0
}

/** di/dt and dω/dt at this moment in the present mode. */
function rates(
  state: MotorState,
  cache: BlockCache,
  point: ModelPoint,
  forcing: Forcing,
): { current: number; speed: number } {
  const i = state.x[0]!
  const w = state.x[1]!
  const across =
    forcing.voltage -
    (cache.blockOhm + state.drop.excessOhm) * i -
    point.backEmfConstantVsPerRad * w -
    state.drop.at(i, state.polarity)
  const torque =
    point.torqueConstantNmPerA * (forcing.fedCurrent ?? i) -
    forcing.torque -
    state.direction * point.coulombTorqueNm -
    point.viscousNmsPerRad * w -
    Math.abs(w) * (point.viscousDifferenceNmsPerRad + point.windageNms2PerRad2 * w)
  return {
    current: state.conducting ? across / point.inductanceHenry : 0,
    speed: state.turning ? torque / point.inertiaKgM2 : 0,
  }
}

function scale(values: Float64Array, factor: number): void {
  const by = Number.isFinite(factor) ? factor : 0
  for (let j = 0; j < values.length; j++) values[j]! *= by
}
