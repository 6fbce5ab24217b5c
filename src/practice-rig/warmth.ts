import type { PracticeMotor } from '../records/practice-motor.ts'
import { advanceHeat, copperFactor, type HeatState } from './heat.ts'
import type { RotorLaw, RotorState } from './rotor.ts'

/** The bridge on its heat sink, which a rig reports as its board temperature. */
const BOARD_J_PER_K = 25
const BOARD_K_PER_W = 6

/** Temperatures, and what they do to resistance and flux. */
export interface Warmth {
  readonly heat: Readonly<HeatState>
  readonly boardCelsius: number
  ambientCelsius: number
  /** Takes in the losses since the last call. */
  catchUp(timeSec: number): void
  set(windingCelsius: number, housingCelsius: number): void
}

export function createWarmth(
  motor: PracticeMotor,
  rotor: RotorState,
  law: RotorLaw,
  pathOhm: number,
  ambientCelsius: number,
  heats: boolean,
): Warmth {
  const heat = { windingCelsius: ambientCelsius, housingCelsius: ambientCelsius }
  let boardCelsius = ambientCelsius
  let seenSec = 0
  let seenCopper = 0
  let seenRest = 0
  let seenAmp2 = 0

  function follow(): void {
    law.copperFactor = copperFactor(heat.windingCelsius)
    law.fluxFactor = 1 + motor.magnet.coefficientPerKelvin * (heat.housingCelsius - 20)
  }

  follow()
  return {
    heat,
    ambientCelsius,
    get boardCelsius() {
      return boardCelsius
    },
    catchUp(timeSec) {
      const span = timeSec - seenSec
      const rest = rotor.contactJoule + rotor.frictionJoule
      const boardJoule = (rotor.amp2Sec - seenAmp2) * pathOhm
      const boardLoss = ((boardCelsius - this.ambientCelsius) / BOARD_K_PER_W) * span
      boardCelsius += (boardJoule - boardLoss) / BOARD_J_PER_K
      if (heats) {
        const copper = rotor.copperJoule - seenCopper
        advanceHeat(heat, motor.thermal, this.ambientCelsius, copper, rest - seenRest, span)
        follow()
      }
      seenSec = timeSec
      seenCopper = rotor.copperJoule
      seenRest = rest
      seenAmp2 = rotor.amp2Sec
    },
    set(windingCelsius, housingCelsius) {
      heat.windingCelsius = windingCelsius
      heat.housingCelsius = housingCelsius
      follow()
    },
  }
}
