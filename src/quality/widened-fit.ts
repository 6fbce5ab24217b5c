import type { FitDocument } from '../contract/fit-document.ts'
import { motorEstimate } from '../contract/motor-estimate.ts'
import { deriveQuantities } from '../identify/derived.ts'
import type { ParameterName } from '../records/parameter.ts'
import { mean } from '../statistics/describe.ts'
import { coverageFactor } from '../statistics/distributions.ts'

/**
 * The fit with other standard uncertainties of its parameters: intervals stretched alike, derived quantities
 * propagated anew with the correlations as they were.
 */
export function widenedFit(
  fit: FitDocument,
  uncertaintyOf: (name: ParameterName, stated: number, value: number) => number,
): FitDocument {
  const parameters = Object.fromEntries(
    Object.entries(fit.parameters).map(([name, parameter]) => {
      const { value, standardUncertainty: stated } = parameter
      if (value === null || stated === null || !(stated > 0)) return [name, parameter]
      const standardUncertainty = uncertaintyOf(name as ParameterName, stated, value)
      const stretch = standardUncertainty / stated
      const end = (x: number | null) => (x === null ? null : value + stretch * (x - value))
      return [
        name,
        {
          ...parameter,
          standardUncertainty,
          lower95: end(parameter.lower95),
          upper95: end(parameter.upper95),
        },
      ]
    }),
  ) as FitDocument['parameters']
  const wide = { ...fit, parameters }
  return { ...wide, derived: { ...fit.derived, ...derivedAnew(wide) } }
}

function derivedAnew(fit: FitDocument): FitDocument['derived'] {
  const { names, values, covariance } = motorEstimate(fit)
  const stated = Object.values(fit.derived).find(d => typeof d.atVolt === 'number')?.atVolt
  return deriveQuantities({
    values: Object.fromEntries(names.map((name, i) => [name, values[i]!])),
    names,
    covariance,
    voltageVolt: typeof stated === 'number' ? stated : null,
    degreesOfFreedom: Number.POSITIVE_INFINITY,
  })
}

const NORMAL_95 = coverageFactor(Number.POSITIVE_INFINITY)

/** Shaft positions at which the rotor was locked. */
export function lockedPositions(fit: FitDocument): number {
  return Object.values(fit.separate).filter(each => each.kind === 'locked-rotor').length
}

/** Scatter of the resistance over shaft positions in a reference, as a share; null where none shows it. */
export function referenceScatter(reference: readonly FitDocument[]): number | null {
  const shares = reference.flatMap(fit => fit.derived.resistanceScatter?.value ?? [])
  return shares.length === 0 ? null : Math.sqrt(mean(shares.map(share => share * share)))
}

/**
 * A few shaft positions show their own scatter badly: by chance they agree, and the resistance seems better
 * known than it is. With s the scatter of the reference over many positions, the standard uncertainty of the
 * mean over n positions is at least s R/√n. Where that is the larger, it takes the place of the stated one.
 */
export function allowForPositions(
  fit: FitDocument,
  scatterShare: number | null,
  positions = lockedPositions(fit),
): FitDocument {
  const resistance = fit.parameters.resistance
  if (scatterShare === null || positions === 0 || !resistance?.value) return fit
  const least = (scatterShare * resistance.value) / Math.sqrt(positions)
  if (least <= (resistance.standardUncertainty ?? 0)) return fit
  const wide = widenedFit(fit, (name, stated) => (name === 'resistance' ? least : stated))
  // The scatter is known from the reference, not from the few positions of the sample.
  wide.parameters.resistance = {
    ...wide.parameters.resistance,
    lower95: resistance.value - NORMAL_95 * least,
    upper95: resistance.value + NORMAL_95 * least,
  }
  return wide
}
