import type { FitDocument } from '../contract/fit-document.ts'
import type { ParameterName } from '../records/parameter.ts'
import { mean } from '../statistics/describe.ts'
import { coverageFactor } from '../statistics/distributions.ts'
import { lockedPositions, widenedFit } from './widened-fit.ts'

/** Fewest tests of a kind whose uncertainties are pooled. Common practice, no source. */
export const FEWEST_POOLED = 8
/** A test that states more than so many times what its like do went otherwise, and keeps what it states. */
const STRANGER = 3

/**
 * One short test has few runs, and tells its own uncertainty badly: the t factor of one or two degrees of
 * freedom makes its intervals several times as wide as they need be. Tests of the same effort on motors of
 * one type are a measurement under statistical control: the root mean square of what they state, with a degree
 * of freedom each at least, takes the place of what one states alone.
 * Source: GUM (JCGM 100:2008), 4.2.4, pooled estimate of variance of a well-characterized measurement.
 */
export function pooledUncertainty(fit: FitDocument, tests: readonly FitDocument[]): FitDocument {
  const alike = tests.filter(each => effortOf(each) === effortOf(fit))
  const pooled = new Map<ParameterName, number>()
  for (const [name, own] of Object.entries(fit.parameters)) {
    const stated = alike.flatMap(
      each => each.parameters[name as ParameterName]?.standardUncertainty ?? [],
    )
    const u = own.standardUncertainty
    if (own.value === null || u === null || stated.length < FEWEST_POOLED) continue
    const together = Math.sqrt(mean(stated.map(each => each * each)))
    if (together > 0 && u <= STRANGER * together) pooled.set(name as ParameterName, together)
  }
  if (pooled.size === 0) return fit
  const factor = coverageFactor(alike.length)
  const wide = widenedFit(fit, (name, stated) => pooled.get(name) ?? stated)
  const parameters = Object.fromEntries(
    Object.entries(wide.parameters).map(([name, parameter]) => {
      const u = pooled.get(name as ParameterName)
      return u === undefined || parameter.value === null
        ? [name, parameter]
        : [
            name,
            {
              ...parameter,
              lower95: parameter.value - factor * u,
              upper95: parameter.value + factor * u,
            },
          ]
    }),
  ) as FitDocument['parameters']
  return { ...wide, parameters }
}

/** Tests are alike that locked the shaft as often and had as many runs. */
const effortOf = (fit: FitDocument): string => `${lockedPositions(fit)} of ${fit.runs.length}`
