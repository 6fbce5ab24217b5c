import type { HeatNumber, HeatNumberName } from '../contract/heat-document.ts'
import { coverageFactor } from '../statistics/distributions.ts'
import { propagate } from '../statistics/propagation.ts'
import type { HeatFit } from './fit-heat.ts'

/** A number less certain than this share is not told. */
export const TELLS = 0.2
/** A housing shows its time constant when it was watched for at least so much of it. */
const WATCHED = 1
/** Logarithm within which a time constant is good for advice. */
const ROUGHLY = 0.4

const FACTS: Readonly<Record<HeatNumberName, { label: string; unit: string; formula: string }>> = {
  windingToHousing: {
    label: 'Thermal resistance, winding to housing',
    unit: 'K/W',
    formula: 'R_1',
  },
  housingToAmbient: { label: 'Thermal resistance, housing to air', unit: 'K/W', formula: 'R_2' },
  windingHeat: { label: 'Heat capacity of the winding', unit: 'J/K', formula: 'C_w' },
  housingHeat: { label: 'Heat capacity of the housing', unit: 'J/K', formula: 'C_h' },
  windingTimeConstant: {
    label: 'Time constant of the winding, housing held',
    unit: 's',
    formula: 'R_1 C_w',
  },
  housingTimeConstant: {
    label: 'Time constant of the whole motor to air',
    unit: 's',
    formula: 'R_2 (C_w + C_h)',
  },
}

/** Values of the numbers from the fitted logarithms. */
const VALUES: Readonly<Record<HeatNumberName, (x: readonly number[]) => number>> = {
  windingToHousing: x => Math.exp(x[0]!),
  housingToAmbient: x => Math.exp(x[1]!),
  windingHeat: x => Math.exp(x[2]!),
  housingHeat: x => Math.exp(x[3]!),
  windingTimeConstant: x => Math.exp(x[0]! + x[2]!),
  housingTimeConstant: x => Math.exp(x[1]!) * (Math.exp(x[2]!) + Math.exp(x[3]!)),
}

/** What only a run long against the housing tells. */
const NEEDS_HOUSING: ReadonlySet<HeatNumberName> = new Set<HeatNumberName>([
  'housingToAmbient',
  'housingHeat',
  'housingTimeConstant',
])

/**
 * The numbers of the model with their uncertainties. One that the run leaves open by more than `TELLS`, or whose
 * time constant it is too short for, is not told.
 */
export function heatNumbers(
  fit: HeatFit,
  covariance: readonly (readonly number[])[],
  watchedSec: number,
): Record<HeatNumberName, HeatNumber> {
  const slow = VALUES.housingTimeConstant(fit.coordinates)
  const entries = Object.entries(FACTS).map(([key, fact]) => {
    const name = key as HeatNumberName
    // By the logarithm: none of these can be nought or below.
    const { value, standardUncertainty } = propagate(
      x => Math.log(VALUES[name](x)),
      fit.coordinates,
      covariance,
    )
    const tooShort = NEEDS_HOUSING.has(name) && watchedSec < WATCHED * slow
    if (tooShort || !(standardUncertainty < TELLS)) {
      return [name, untold(fact, whyNot(name, watchedSec, slowOf(fit, covariance)))] as const
    }
    const reach = coverageFactor(fit.degreesOfFreedom) * standardUncertainty
    const told: HeatNumber = {
      ...fact,
      status: 'determined',
      value: Math.exp(value),
      standardUncertainty: Math.exp(value) * standardUncertainty,
      lower95: Math.exp(value - reach),
      upper95: Math.exp(value + reach),
    }
    return [name, told] as const
  })
  return Object.fromEntries(entries) as Record<HeatNumberName, HeatNumber>
}

/** The time constant of the housing where the run tells it at least roughly. */
function slowOf(fit: HeatFit, covariance: readonly (readonly number[])[]): number | null {
  const { value, standardUncertainty } = propagate(
    x => Math.log(VALUES.housingTimeConstant(x)),
    fit.coordinates,
    covariance,
  )
  return standardUncertainty < ROUGHLY ? Math.exp(value) : null
}

function whyNot(name: HeatNumberName, watchedSec: number, slow: number | null): string {
  const lasted = `the run lasts ${rounded(watchedSec)} s`
  if (!NEEDS_HOUSING.has(name)) {
    return `${lasted} and leaves it open: read the resistance more often in the first minute of heating and of cooling`
  }
  return slow === null
    ? `${lasted}, too short for the housing: heat until the resistance hardly changes any more, then let it cool as long`
    : `${lasted} and the time constant of the housing is about ${rounded(slow)} s: heat and cool for at least ${rounded(3 * slow)} s together`
}

const rounded = (sec: number): string => Number(sec.toPrecision(2)).toString()

export function untold(
  fact: { label: string; unit: string; formula: string },
  reason: string,
): HeatNumber {
  return {
    ...fact,
    status: 'not-determined',
    value: null,
    standardUncertainty: null,
    lower95: null,
    upper95: null,
    reason,
  }
}
