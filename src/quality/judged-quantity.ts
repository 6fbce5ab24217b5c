import type { FitDocument } from '../contract/fit-document.ts'
import { isParameterName, PARAMETER_FACTS } from '../records/parameter.ts'

/** A number that can be judged: of a fit, or typed by hand (an insulation test, noise, end play). */
export interface QuantityReading {
  readonly quantity: string
  readonly label: string
  readonly unit: string
  readonly value: number
  readonly standardUncertainty: number
}

export interface HandEntry {
  readonly quantity: string
  readonly unit: string
  readonly value: number
  /** Null: not stated, taken as none. */
  readonly standardUncertainty: number | null
}

/** A parameter or derived quantity of a fit by name; null where the fit has no such number. */
export function readingOf(fit: FitDocument, quantity: string): QuantityReading | null {
  if (isParameterName(quantity)) {
    const result = fit.parameters[quantity]
    if (!result || result.value === null) return null
    return {
      quantity,
      label: PARAMETER_FACTS[quantity].label,
      unit: result.unit,
      value: result.value,
      standardUncertainty: result.standardUncertainty ?? 0,
    }
  }
  const derived = fit.derived[quantity]
  if (!derived || derived.value === null) return null
  const { label, unit, value } = derived
  return { quantity, label, unit, value, standardUncertainty: derived.standardUncertainty ?? 0 }
}

export function readingOfEntry(entry: HandEntry): QuantityReading {
  return { ...entry, label: entry.quantity, standardUncertainty: entry.standardUncertainty ?? 0 }
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
