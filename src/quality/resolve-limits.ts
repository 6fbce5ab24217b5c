import { failure, type Result, success } from '../base/result.ts'
import type { FitDocument } from '../contract/fit-document.ts'
import type { Limit, LimitSet } from '../records/limits.ts'
import { mean, standardDeviation } from '../statistics/describe.ts'
import type { ToleranceBand } from './conformity.ts'
import { readingOf } from './judged-quantity.ts'

/** A limit in the unit of its quantity, with what the reference says of it. */
export interface ResolvedLimit {
  readonly quantity: string
  readonly unit: string
  readonly band: ToleranceBand
  /** Mean of the reference pool; null where the reference has no such number (entries by hand). */
  readonly nominal: number | null
  /** Spread of the pool; null for a reference of one motor. */
  readonly poolSigma: number | null
  /** Voltage at which reference and samples are compared; null for quantities that have none. */
  readonly atVolt: number | null
}

/**
 * Turns limits given in per cent or in sigmas of the reference into numbers. Fails, naming the quantity,
 * where the reference cannot carry the basis, or the limits are reversed.
 */
export function resolveLimits(
  set: LimitSet,
  reference: readonly FitDocument[],
): Result<ResolvedLimit[], string> {
  const off = reference.find(
    fit => fit.referenceTemperatureCelsius !== set.referenceTemperatureCelsius,
  )
  if (off) {
    return failure(
      `the limits hold at ${set.referenceTemperatureCelsius} °C, but '${off.motor}' of the reference was identified for ${off.referenceTemperatureCelsius} °C; fit it again with --reference-temperature ${set.referenceTemperatureCelsius}`,
    )
  }
  const resolved: ResolvedLimit[] = []
  for (const limit of set.limits) {
    const one = resolve(limit, reference)
    if (!one.ok) return failure(`${limit.quantity}: ${one.error}`)
    resolved.push(one.value)
  }
  return success(resolved)
}

function resolve(limit: Limit, reference: readonly FitDocument[]): Result<ResolvedLimit, string> {
  if (limit.lower === null && limit.upper === null)
    return failure('has neither a lower nor an upper limit')
  if (limit.lower !== null && limit.upper !== null && limit.lower >= limit.upper) {
    return failure(
      `the lower limit ${limit.lower} is not below the upper limit ${limit.upper}; are they reversed?`,
    )
  }
  const atVolt =
    reference.map(fit => readingOf(fit, limit.quantity)?.atVolt ?? null).find(v => v !== null) ??
    null
  const values = reference.flatMap(fit => readingOf(fit, limit.quantity, atVolt)?.value ?? [])
  const nominal = values.length > 0 ? mean(values) : null
  const poolSigma = values.length > 1 ? standardDeviation(values) : null
  const head = { quantity: limit.quantity, unit: limit.unit, nominal, poolSigma, atVolt }
  if (limit.basis === 'absolute') {
    return success({ ...head, band: { lower: limit.lower, upper: limit.upper } })
  }
  if (nominal === null)
    return failure('no motor of the reference has this number; set the limit as an absolute value')
  if (limit.basis === 'percent') {
    const at = (percent: number | null) =>
      percent === null ? null : nominal + (Math.abs(nominal) * percent) / 100
    return success({ ...head, band: { lower: at(limit.lower), upper: at(limit.upper) } })
  }
  if (poolSigma === null) {
    return failure('a reference of one motor has no spread: limits in sigma need a pool of several')
  }
  const at = (sigmas: number | null) => (sigmas === null ? null : nominal + sigmas * poolSigma)
  return success({ ...head, band: { lower: at(limit.lower), upper: at(limit.upper) } })
}
