import type { PracticeMotor } from '../records/practice-motor.ts'
import { solveCommutator } from './commutator.ts'
import type { Imperfections } from './imperfections.ts'

export const TURN_CELLS = 4096

/**
 * All that depends on the shaft angle, interleaved for one look-up: [constant, copper resistance,
 * cogging torque, excess of dry friction] a cell, with the first cell again at the end.
 */
export function buildTurnTable(motor: PracticeMotor, on: Imperfections): Float64Array {
  const turn = solveCommutator(motor, TURN_CELLS)
  const bumps = frictionBumps(motor)
  const table = new Float64Array(4 * (TURN_CELLS + 1))
  for (let c = 0; c <= TURN_CELLS; c++) {
    const cell = c % TURN_CELLS
    const angle = (cell / TURN_CELLS) * 2 * Math.PI
    table[4 * c] = on.commutationRipple
      ? turn.constant[cell]!
      : motor.magnet.backEmfConstantVsPerRad
    table[4 * c + 1] = on.windingAngle ? turn.copperOhm[cell]! : motor.winding.copperOhm
    table[4 * c + 2] = on.cogging
      ? motor.cogging.amplitudeNm * Math.sin(motor.cogging.periodsPerTurn * angle)
      : 0
    table[4 * c + 3] = on.frictionBumps ? bumps[cell]! : 0
  }
  return table
}

/** Raised cosines; their mean over the turn is taken off, so that `coulombNm` stays the mean. */
function frictionBumps(motor: PracticeMotor): Float64Array {
  const excess = new Float64Array(TURN_CELLS)
  for (const bump of motor.friction.bumps) {
    for (let c = 0; c < TURN_CELLS; c++) {
      const away = (c / TURN_CELLS) * 2 * Math.PI - bump.angleRad
      const wrapped = away - 2 * Math.PI * Math.round(away / (2 * Math.PI))
      if (Math.abs(wrapped) < bump.widthRad / 2) {
        excess[c]! += (bump.torqueNm / 2) * (1 + Math.cos((2 * Math.PI * wrapped) / bump.widthRad))
      }
    }
  }
  const mean = excess.reduce((sum, x) => sum + x, 0) / TURN_CELLS
  return excess.map(x => x - mean)
}
