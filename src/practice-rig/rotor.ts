import { TURN_CELLS } from './turn-table.ts'

/** What flows and turns, with running integrals from which sensors and heat take differences. */
export interface RotorState {
  currentAmp: number
  speed: number
  angle: number
  acceleration: number
  /** At the end of the last step, between the motor's terminals. */
  terminalVolt: number
  /** Electromagnetic and cogging torque of the last step. */
  innerTorqueNm: number
  contactOhm: number
  segment: number
  voltSec: number
  ampSec: number
  amp2Sec: number
  inputJoule: number
  copperJoule: number
  contactJoule: number
  frictionJoule: number
}

/** Constants of the motion; changed only between steps. */
export interface RotorLaw {
  table: Float64Array
  inductanceHenry: number
  /** Copper resistance over that at 20 degC; flux over that at 20 degC. */
  copperFactor: number
  fluxFactor: number
  dropVolt: number
  kneeAmp: number
  inertiaKgM2: number
  coulombNm: number
  staticNm: number
  stribeckRadPerSec: number
  directionShare: number
  /** Dry friction outside the motor (fixture, clamp), sliding and at rest. */
  outerDryNm: number
  outerStaticNm: number
  viscous: number
  windage: number
  externalNm: number
  hold: 'free' | 'locked' | 'driven'
  ripples: number
  redrawContact: () => number
}

/** What the bridge puts across the terminals: v = volt - ohm i, or nothing. */
export interface Circuit {
  kind: 'open' | 'closed' | 'freewheel'
  volt: number
  ohm: number
  /** The source lowers its voltage (never beyond zero) to keep the current within this. */
  limitAmp: number
  /** The step in which the current passes this is the last one. */
  tripAmp: number
}

/**
 * Advances by up to `count` steps of `step` seconds; returns how many were made (fewer where the
 * trip current was passed or a freewheeling current ended).
 *   L di/dt = v - (R(θ) + R_c) i - K(θ) ω - V_b tanh(i/I_b)
 *   J dω/dt = K(θ) i + T_cog(θ) + T_ext - dry(θ, ω) - B ω - C ω|ω|
 * Trapezoidal rule, linearised about the start of the step and with K and R at its middle: second
 * order and stable at any step. Dry friction holds below the break-away torque; a zero of speed is
 * located inside the step.
 */
export function advanceRotor(
  s: RotorState,
  law: RotorLaw,
  circuit: Circuit,
  count: number,
  step: number,
): number {
  const { table, copperFactor, fluxFactor, dropVolt, kneeAmp, directionShare } = law
  const { limitAmp, tripAmp } = circuit
  const inductive = law.inductanceHenry / step
  const freewheel = circuit.kind === 'freewheel'
  const closed = circuit.kind !== 'open'
  const free = law.hold === 'free'
  const cellsPerRad = TURN_CELLS / (2 * Math.PI)
  const ripplesPerCell = law.ripples / TURN_CELLS
  const saturatedAmp = 18 * kneeAmp
  const slowSpeed = 5 * law.stribeckRadPerSec
  let i = s.currentAmp
  let w = s.speed
  let angle = s.angle
  let acceleration = s.acceleration
  let done = 0
  while (done < count) {
    done++
    const wMid = w + 0.5 * step * acceleration
    const position = (angle + 0.5 * step * w) * cellsPerRad
    const whole = Math.floor(position)
    const part = position - whole
    const at = (whole & (TURN_CELLS - 1)) << 2
    const k = fluxFactor * (table[at]! + part * (table[at + 4]! - table[at]!))
    const copper = copperFactor * (table[at + 1]! + part * (table[at + 5]! - table[at + 1]!))
    const cogging = table[at + 2]! + part * (table[at + 6]! - table[at + 2]!)
    const bump = table[at + 3]! + part * (table[at + 7]! - table[at + 3]!)
    const segment = Math.floor(position * ripplesPerCell)
    if (segment !== s.segment) {
      s.segment = segment
      s.contactOhm = law.redrawContact()
    }

    let iMid = 0
    let vMid = k * wMid
    if (closed) {
      const before = i
      const inner = copper + s.contactOhm
      let tanh = i > 0 ? 1 : -1
      if (i < saturatedAmp && i > -saturatedAmp) tanh = Math.tanh(i / kneeAmp)
      const slope = (dropVolt * (1 - tanh * tanh)) / kneeAmp
      const opposing = (inner + circuit.ohm) * i + k * wMid + dropVolt * tanh
      const stiffness = inductive + 0.5 * (inner + circuit.ohm + slope)
      i += (circuit.volt - opposing) / stiffness
      if (i > limitAmp) {
        i = Math.max(limitAmp, before + Math.min(0, -opposing / stiffness))
      } else if (i < -limitAmp) {
        i = Math.min(-limitAmp, before + Math.max(0, -opposing / stiffness))
      }
      // Diodes carry current only against the voltage they hold off.
      if (freewheel && i * circuit.volt >= 0) i = 0
      iMid = 0.5 * (before + i)
      const rise = i - before
      const drop = dropVolt * tanh + 0.5 * slope * rise
      vMid = inductive * rise + inner * iMid + k * wMid + drop
      s.terminalVolt = i === 0 && freewheel ? k * wMid : circuit.volt - circuit.ohm * i
      s.inputJoule += vMid * iMid * step
      s.copperJoule += copper * iMid * iMid * step
      s.contactJoule += (s.contactOhm * iMid + drop) * iMid * step
      s.ampSec += iMid * step
      s.amp2Sec += iMid * iMid * step
    } else {
      s.terminalVolt = vMid
    }
    s.voltSec += vMid * step

    s.innerTorqueNm = k * iMid + cogging
    if (free) {
      const drive = s.innerTorqueNm + law.externalNm
      const speedBefore = w
      const angleBefore = angle
      let dry = 0
      if (w !== 0) {
        const sign = w > 0 ? 1 : -1
        const magnitude = w * sign
        let sliding = law.coulombNm
        if (magnitude < slowSpeed) {
          const ratio = magnitude / law.stribeckRadPerSec
          sliding += (law.staticNm - law.coulombNm) * Math.exp(-ratio * ratio)
        }
        dry = sign * ((sliding + bump) * (1 + sign * directionShare) + law.outerDryNm)
        const fluid = law.viscous + 2 * law.windage * magnitude
        const resisting = dry + (law.viscous + law.windage * magnitude) * w
        const after = w + ((drive - resisting) * step) / (law.inertiaKgM2 + 0.5 * step * fluid)
        if (after * sign > 0) {
          angle += 0.5 * step * (w + after)
          acceleration = (after - w) / step
          w = after
        } else {
          const share = w / (w - after)
          angle += 0.5 * share * step * w
          w = startFromRest(law, drive, bump, (1 - share) * step)
          angle += 0.5 * (1 - share) * step * w
          acceleration = 0
        }
      } else {
        w = startFromRest(law, drive, bump, step)
        angle += 0.5 * step * w
        acceleration = w / step
        dry = w === 0 ? 0 : (w > 0 ? 1 : -1) * (law.staticNm + bump + law.outerStaticNm)
      }
      const mean = 0.5 * (speedBefore + w)
      const turned = angle - angleBefore
      s.frictionJoule +=
        (dry + (law.viscous + law.windage * (mean > 0 ? mean : -mean)) * mean) * turned
    } else if (w !== 0) {
      angle += step * w
    }
    // Open and at rest: nothing changes any more.
    if (!closed && w === 0) done = count
    if (freewheel && i === 0) break
    if (i > tripAmp || i < -tripAmp) break
  }
  s.currentAmp = i
  s.speed = w
  s.angle = angle
  s.acceleration = acceleration
  return done
}

/** Speed after `span` seconds from standstill: 0 unless the torque breaks the shaft away. */
function startFromRest(law: RotorLaw, drive: number, bump: number, span: number): number {
  const sign = drive > 0 ? 1 : -1
  const holding = holdingTorque(law, sign, bump)
  return drive * sign > holding ? (span * (drive - sign * holding)) / law.inertiaKgM2 : 0
}

/** Torque that dry friction can take at standstill against motion in direction `sign`. */
function holdingTorque(law: RotorLaw, sign: number, bump: number): number {
  return (law.staticNm + bump) * (1 + sign * law.directionShare) + law.outerStaticNm
}
