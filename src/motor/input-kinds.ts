import type { Coordinate } from './parameters.ts'

/** How a coordinate acts on the inputs of a step, or on its matrices; a number, for it is looked up at every step. */
export const DROP = 1
export const KNEE = 2
export const COULOMB = 3
export const OFFSET = 4
export const WINDAGE = 5
export const DIFFERENCE = 6
export const VOLTAGE_ZERO = 7
export const CURRENT_ZERO = 8
export const BACK_EMF = 9
export const TORQUE = 10
export const HEATING = 11
export const COOLING = 12
export const INERTIA = 13
export const RESISTANCE = 14
export const INDUCTANCE = 15

export const INPUT_KIND: Partial<Record<Coordinate, number>> = {
  brushDrop: DROP,
  lnKnee: KNEE,
  coulomb: COULOMB,
  offset: OFFSET,
  windage: WINDAGE,
  viscousDifference: DIFFERENCE,
  voltageZero: VOLTAGE_ZERO,
  currentZero: CURRENT_ZERO,
  lnBackEmf: BACK_EMF,
  lnTorque: TORQUE,
  heating: HEATING,
  cooling: COOLING,
  lnInertia: INERTIA,
  lnResistance: RESISTANCE,
  lnInductance: INDUCTANCE,
}
