import type { DerivedResult, FitDocument } from '../contract/fit-document.ts'
import { motorEstimate } from '../contract/motor-estimate.ts'
import { deriveQuantities } from '../identify/derived.ts'
import { isParameterName, PARAMETER_FACTS } from '../records/parameter.ts'
import { normalQuantile } from '../statistics/distributions.ts'

/** A number that can be judged: of a fit, or typed by hand (an insulation test, noise, end play). */
export interface QuantityReading {
  readonly quantity: string
  readonly label: string
  readonly unit: string
  readonly value: number
  /**
   * For judging: where a few degrees of freedom widen the 95 % interval, what a normal distribution with
   * that interval would have.
   */
  readonly standardUncertainty: number
  /** Voltage at which a derived quantity is stated; null where it has none. */
  readonly atVolt: number | null
}

export interface HandEntry {
  readonly quantity: string
  readonly unit: string
  readonly value: number
  /** Null: not stated, taken as none. */
  readonly standardUncertainty: number | null
}

/**
 * A parameter or derived quantity of a fit by name; null where the fit has no such number. Derived
 * quantities at a voltage (stall, no load, powers) are stated anew at `atVolt`: a fit states them at the
 * highest voltage of its own tests, which differs from one sample to the next.
 */
export function readingOf(
  fit: FitDocument,
  quantity: string,
  atVolt: number | null = null,
): QuantityReading | null {
  if (isParameterName(quantity)) {
    const result = fit.parameters[quantity]
    if (!result || result.value === null) return null
    return {
      quantity,
      label: PARAMETER_FACTS[quantity].label,
      unit: result.unit,
      value: result.value,
      standardUncertainty: judgingUncertainty(result),
      atVolt: null,
    }
  }
  const own = fit.derived[quantity]
  if (!own || own.value === null) return null
  const ownVolt = typeof own.atVolt === 'number' ? own.atVolt : null
  const isElsewhere = atVolt !== null && ownVolt !== null && ownVolt !== atVolt
  const derived = isElsewhere ? derivedAt(fit, quantity, atVolt) : own
  if (!derived || derived.value === null) return null
  const { label, unit, value } = derived
  return {
    quantity,
    label,
    unit,
    value,
    standardUncertainty: judgingUncertainty(derived),
    atVolt: isElsewhere ? atVolt : ownVolt,
  }
}

function derivedAt(fit: FitDocument, quantity: string, voltageVolt: number): DerivedResult | null {
  const { names, values, covariance } = motorEstimate(fit)
  const byName = Object.fromEntries(names.map((name, i) => [name, values[i]!]))
  const input = {
    values: byName,
    names,
    covariance,
    voltageVolt,
    degreesOfFreedom: Number.POSITIVE_INFINITY,
  }
  return deriveQuantities(input)[quantity] ?? null
}

interface WithInterval {
  readonly standardUncertainty: number | null
  readonly lower95: number | null
  readonly upper95: number | null
}

function judgingUncertainty({ standardUncertainty, lower95, upper95 }: WithInterval): number {
  const stated = standardUncertainty ?? 0
  if (lower95 === null || upper95 === null) return stated
  return Math.max(stated, (upper95 - lower95) / (2 * normalQuantile(0.975)))
}

export function readingOfEntry(entry: HandEntry): QuantityReading {
  return {
    ...entry,
    label: entry.quantity,
    standardUncertainty: entry.standardUncertainty ?? 0,
    atVolt: null,
  }
}

/** Names that limits can be set on: every number that the fit has. */
export function judgeableQuantities(fit: FitDocument): string[] {
  const parameters = Object.entries(fit.parameters).flatMap(([name, p]) =>
    p.value === null ? [] : [name],
  )
  const derived = Object.entries(fit.derived).flatMap(([name, d]) =>
    d.value === null ? [] : [name],
  )
  return [...parameters, ...derived]
}
