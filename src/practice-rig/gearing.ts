import type { PracticeGear } from '../records/practice-motor.ts'
import type { RotorLaw, RotorState } from './rotor.ts'

/** Dry friction outside of the motor without the gears: fixture, clamp. */
export interface OuterFriction {
  readonly dryNm: number
  readonly staticNm: number
}

/** A gearbox as the motor feels it; one that is not there does nothing. */
export interface Gearing {
  /** Sets the outer friction for the way that the shaft turns, or is pulled. */
  feel(rotor: RotorState, law: RotorLaw, outer: OuterFriction, volt: number): void
  /** The shaft turned by so much. */
  turn(angleRad: number): void
}

/** The gears drag only at the end of their play; within it the motor turns by itself. Their inertia is left out. */
export function createGearing(gear: PracticeGear | undefined): Gearing {
  if (!gear) return { feel: () => {}, turn: () => {} }
  const { backlashRad, coulombNm } = gear
  let playRad = 0
  return {
    feel(rotor, law, outer, volt) {
      const way = Math.sign(rotor.speed) || Math.sign(rotor.innerTorqueNm) || Math.sign(volt)
      const isEngaged = way > 0 ? playRad >= backlashRad : way < 0 && playRad <= 0
      law.outerDryNm = outer.dryNm + (isEngaged ? coulombNm : 0)
      law.outerStaticNm = outer.staticNm + (isEngaged ? coulombNm : 0)
    },
    turn(angleRad) {
      playRad = Math.min(backlashRad, Math.max(0, playRad + angleRad))
    },
  }
}
