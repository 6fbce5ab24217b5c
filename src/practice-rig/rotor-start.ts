import type { PracticeMotor } from '../records/practice-motor.ts'
import type { PracticeFixture } from './bench.ts'
import { ripplesPerTurn } from './commutator.ts'
import type { Imperfections } from './imperfections.ts'
import type { RotorLaw, RotorState } from './rotor.ts'
import { buildTurnTable } from './turn-table.ts'

/** The law of motion of a motor with its fixture; temperatures are not in it yet. */
export function createRotorLaw(
  motor: PracticeMotor,
  fixture: PracticeFixture,
  on: Imperfections,
  normal: () => number,
): RotorLaw {
  const { friction, brush, winding } = motor
  const noise = on.contactNoise ? brush.contactNoiseOhm : 0
  return {
    table: buildTurnTable(motor, on),
    inductanceHenry: winding.inductanceHenry,
    copperFactor: 1,
    fluxFactor: 1,
    dropVolt: brush.dropVolt,
    kneeAmp: brush.kneeAmp,
    inertiaKgM2: motor.inertiaKgM2 + fixture.inertiaKgM2,
    coulombNm: friction.coulombNm,
    staticNm: on.breakAway ? friction.staticNm : friction.coulombNm,
    stribeckRadPerSec: friction.stribeckRadPerSec,
    directionShare: on.frictionDirection ? friction.directionShare : 0,
    outerDryNm: fixture.coulombNm,
    outerStaticNm: fixture.coulombNm,
    viscous: friction.viscousNmsPerRad + fixture.viscousNmsPerRad,
    windage: friction.windageNms2PerRad2,
    externalNm: 0,
    hold: 'free',
    ripples: ripplesPerTurn(winding.segments, winding.polePairs),
    redrawContact: () =>
      noise > 0 ? Math.max(0, brush.contactOhm + noise * normal()) : brush.contactOhm,
  }
}

export function createRotorAtRest(law: RotorLaw): RotorState {
  return {
    currentAmp: 0,
    speed: 0,
    angle: 0,
    acceleration: 0,
    terminalVolt: 0,
    innerTorqueNm: 0,
    contactOhm: law.redrawContact(),
    segment: 0,
    voltSec: 0,
    ampSec: 0,
    amp2Sec: 0,
    inputJoule: 0,
    copperJoule: 0,
    contactJoule: 0,
    frictionJoule: 0,
  }
}

/** Torque at the shaft end: what the rotor has left after its own friction and acceleration. */
export function shaftTorqueNm(motor: PracticeMotor, law: RotorLaw, rotor: RotorState): number {
  if (rotor.speed === 0) {
    const torque = rotor.innerTorqueNm
    return Math.sign(torque) * Math.max(0, Math.abs(torque) - law.coulombNm)
  }
  const sign = Math.sign(rotor.speed)
  const { viscousNmsPerRad, windageNms2PerRad2 } = motor.friction
  return (
    rotor.innerTorqueNm -
    sign * law.coulombNm * (1 + sign * law.directionShare) -
    (viscousNmsPerRad + windageNms2PerRad2 * Math.abs(rotor.speed)) * rotor.speed -
    motor.inertiaKgM2 * rotor.acceleration
  )
}
