import type { DriveDocument } from '../contract/drive-document.ts'
import type { MotorEstimate } from '../contract/motor-estimate.ts'
import { resistanceRatio } from '../motor/winding-temperature.ts'
import { PARAMETER_FACTS, type ParameterName } from '../records/parameter.ts'
import { propagate } from '../statistics/propagation.ts'

/** One thing that the drive must withstand or provide. */
export interface Finding {
  /** Stable name, e.g. `stallCurrentCold`. */
  readonly id: string
  readonly label: string
  readonly unit: string
  /** Null where it cannot be told; `reason` says why. */
  readonly value: number | null
  /** From the motor's parameters alone: the drive's own figures are taken as given. */
  readonly standardUncertainty: number | null
  readonly formula: string
  readonly inputs: readonly FindingInput[]
  readonly validity: string
  /** `rule-of-thumb`: common practice, no physics behind the number. */
  readonly basis: 'physics' | 'bound' | 'rule-of-thumb'
  readonly reason: string | null
}

export interface FindingInput {
  readonly name: string
  readonly value: number
  readonly unit: string
}

/** The motor's parameters by name, at the reference temperature, in SI. */
export type MotorNumbers = Readonly<Partial<Record<ParameterName, number>>>

export interface FindingRecipe {
  readonly id: string
  readonly label: string
  readonly unit: string
  readonly formula: string
  readonly validity: string
  readonly basis: Finding['basis']
  /** Parameters that the formula needs; the finding is void where one is not determined. */
  readonly needs: readonly ParameterName[]
  /** Further inputs, from the drive. */
  readonly inputs: readonly FindingInput[]
  readonly compute: (motor: Required<MotorNumbers>) => number
  /** A reason why it cannot be told whatever the motor is. */
  readonly missing?: string | null
}

/** Works a recipe out with the uncertainty that the motor's parameters give it. */
export function work(recipe: FindingRecipe, estimate: MotorEstimate): Finding {
  const { id, label, unit, formula, validity, basis } = recipe
  const used = recipe.needs.filter(name => estimate.names.includes(name))
  const inputs = [
    ...used.map(name => ({
      name,
      value: estimate.values[estimate.names.indexOf(name)]!,
      unit: PARAMETER_FACTS[name].unit,
    })),
    ...recipe.inputs,
  ]
  const absent = recipe.needs.find(name => !estimate.names.includes(name))
  const reason = recipe.missing ?? (absent ? `${absent} of the motor is not determined` : null)
  const head = { id, label, unit, formula, inputs, validity, basis }
  if (reason !== null) return { ...head, value: null, standardUncertainty: null, reason }
  const numbers = (x: readonly number[]) =>
    Object.fromEntries(estimate.names.map((name, i) => [name, x[i]!])) as Required<MotorNumbers>
  const result = propagate(x => recipe.compute(numbers(x)), estimate.values, estimate.covariance)
  return {
    ...head,
    value: result.value,
    standardUncertainty: result.standardUncertainty,
    reason: null,
  }
}

/** What the recipes of one topic start from. */
export interface FindingContext {
  readonly drive: DriveDocument
  readonly referenceTemperatureCelsius: number
}

/** Everything but the winding that the motor's current flows through. */
export function seriesOhm(drive: DriveDocument): number {
  return drive.supply.resistanceOhm + drive.bridge.pathResistanceOhm + drive.wiring.resistanceOhm
}

/**
 * Largest current that the drive has to carry for longer than a blanking time: its limit, or the stall
 * current from the highest voltage with the winding as cold as the surroundings can be.
 */
export function worstSteadyAmp({ drive, referenceTemperatureCelsius }: FindingContext) {
  return (motor: Required<MotorNumbers>): number => {
    const cold = resistanceRatio(drive.ambient.lowestCelsius, referenceTemperatureCelsius)
    const stall =
      Math.max(0, drive.supply.highestVolt - motor.brushDrop) /
      (motor.resistance * cold + seriesOhm(drive))
    return Math.min(stall, drive.currentLimit?.limitAmp ?? Number.POSITIVE_INFINITY)
  }
}
