import type { PracticeThermal } from '../records/practice-motor.ts'

/** 1/α - 20 degC of copper, as used with the resistance method (UL and IEC 60335-1: 234.5). */
export const COPPER_KELVIN = 234.5

/** Copper resistance over that at 20 degC: (234.5 + T) / (234.5 + 20). Valid about -50 … 200 degC. */
export function copperFactor(celsius: number): number {
  return (COPPER_KELVIN + celsius) / (COPPER_KELVIN + 20)
}

export interface HeatState {
  windingCelsius: number
  housingCelsius: number
}

/**
 * Two masses in a row, winding, housing, ambient, by one explicit step: `spanSec` must be short
 * against the winding's time constant. Heat of the copper goes to the winding, that of brushes and
 * friction to the housing.
 */
export function advanceHeat(
  heat: HeatState,
  thermal: PracticeThermal,
  ambientCelsius: number,
  windingJoule: number,
  housingJoule: number,
  spanSec: number,
): void {
  const between =
    ((heat.windingCelsius - heat.housingCelsius) / thermal.windingToHousingKPerW) * spanSec
  const away = ((heat.housingCelsius - ambientCelsius) / thermal.housingToAmbientKPerW) * spanSec
  heat.windingCelsius += (windingJoule - between) / thermal.windingJPerK
  heat.housingCelsius += (housingJoule + between - away) / thermal.housingJPerK
}
