import type { DriveDocument } from '../contract/drive-document.ts'
import type { MotorEstimate } from '../contract/motor-estimate.ts'
import type { Finding, FindingInput } from '../contract/withstand-document.ts'
import { resistanceRatio } from '../motor/winding-temperature.ts'
import { PARAMETER_FACTS, type ParameterName } from '../records/parameter.ts'
import { propagate } from '../statistics/propagation.ts'

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
  /** Values measured apart from the identification, and independent of it. */
  readonly beside?: readonly Pick<FindingInput, 'value' | 'standardUncertainty'>[]
  readonly compute: (motor: Required<MotorNumbers>, beside: readonly number[]) => number
  /** A reason why it cannot be told whatever the motor is. */
  readonly missing?: string | null
}

/** Works a recipe out with the uncertainty that the motor's parameters, and what is known beside, give it. */
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
  const count = estimate.values.length
  const beside = recipe.beside ?? []
  const at = [...estimate.values, ...beside.map(each => each.value)]
  const covariance = at.map((_, j) =>
    at.map((__, l) => {
      if (j < count && l < count) return estimate.covariance[j]![l]!
      return j === l ? (beside[j - count]!.standardUncertainty ?? 0) ** 2 : 0
    }),
  )
  const result = propagate(x => recipe.compute(numbers(x), x.slice(count)), at, covariance)
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

/** What the current of a braking motor flows through beside its winding: bridge and wiring, not the supply. */
export function motorPathOhm(drive: DriveDocument): number {
  return drive.bridge.pathResistanceOhm + drive.wiring.resistanceOhm
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

/**
 * Largest current of a moment. Behind a limit: what flows when it acts, after its blanking time. Without one:
 * stall of a drive that only drives, also terminals shorted at full speed where it brakes, the full voltage
 * against full speed where it reverses.
 */
export function worstPeakAmp({ drive, referenceTemperatureCelsius }: FindingContext) {
  const { supply, currentLimit, ambient } = drive
  const across = drive.quadrants === 4 ? 2 : 1
  return (motor: Required<MotorNumbers>): number => {
    const cold = resistanceRatio(ambient.lowestCelsius, referenceTemperatureCelsius)
    const winding = motor.resistance * cold
    const driven =
      Math.max(0, across * (supply.highestVolt - motor.brushDrop)) / (winding + seriesOhm(drive))
    const shorted =
      Math.max(0, supply.highestVolt - 2 * motor.brushDrop) / (winding + motorPathOhm(drive))
    const unlimited = drive.quadrants === 1 ? driven : Math.max(driven, shorted)
    if (!currentLimit) return unlimited
    const rise =
      currentLimit.blankingSec > 0
        ? (across * supply.highestVolt * currentLimit.blankingSec) / motor.inductance
        : 0
    return Math.min(unlimited, currentLimit.limitAmp + rise)
  }
}

/** What `worstPeakAmp` needs to know of the motor. */
export function peakNeeds({ drive }: FindingContext): readonly ParameterName[] {
  const blanked = (drive.currentLimit?.blankingSec ?? 0) > 0
  return blanked ? ['resistance', 'brushDrop', 'inductance'] : ['resistance', 'brushDrop']
}
