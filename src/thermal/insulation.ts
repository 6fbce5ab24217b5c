import { failure, type Result, success } from '../base/result.ts'
import type { InsulationName } from '../contract/heat-names.ts'

/** A thermal class of electrical insulation and what a mean temperature by resistance may be in it. */
export interface InsulationClass {
  readonly name: InsulationName
  /** Highest temperature at the hottest place, degC. Source: IEC 60085 (Y from memory). */
  readonly hottestCelsius: number
  /**
   * By how much the mean found from the resistance has to stay below the hottest place, K: class less 40 degC
   * less the limit of rise by resistance in IEC 60034-1 (B 80, F 105, H 125 K; A 60, E 75 K from memory).
   * Other classes have no such limit there: 15 K is taken, common practice, no source.
   */
  readonly hotSpotKelvin: number
}

const CLASSES: readonly InsulationClass[] = [
  { name: 'Y', hottestCelsius: 90, hotSpotKelvin: 5 },
  { name: 'A', hottestCelsius: 105, hotSpotKelvin: 5 },
  { name: 'E', hottestCelsius: 120, hotSpotKelvin: 5 },
  { name: 'B', hottestCelsius: 130, hotSpotKelvin: 10 },
  { name: 'F', hottestCelsius: 155, hotSpotKelvin: 10 },
  { name: 'H', hottestCelsius: 180, hotSpotKelvin: 15 },
  { name: 'N', hottestCelsius: 200, hotSpotKelvin: 15 },
  { name: 'R', hottestCelsius: 220, hotSpotKelvin: 15 },
]

export const INSULATION_CLASSES = CLASSES.map(each => each.name)

/** Unless the user names one: enamelled wire of small motors is at least that. Common practice, no source. */
export const USUAL_CLASS = 'B'

export function insulationClass(name: string): Result<InsulationClass, string> {
  const found = CLASSES.find(each => each.name === name.trim().toUpperCase())
  return found
    ? success(found)
    : failure(
        `insulation class '${name}'; must be one of ${INSULATION_CLASSES.join(', ')} (IEC 60085)`,
      )
}

/** Highest mean temperature of the winding that the class leaves. */
export const highestMeanCelsius = (insulation: InsulationClass): number =>
  insulation.hottestCelsius - insulation.hotSpotKelvin
