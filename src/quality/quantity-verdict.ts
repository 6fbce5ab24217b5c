import type { FitDocument } from '../contract/fit-document.ts'
import {
  conformityProbability,
  type DecisionRule,
  decide,
  testUncertaintyRatio,
  type ToleranceBand,
  type Verdict,
} from './conformity.ts'
import { type HandEntry, readingOf, readingOfEntry } from './judged-quantity.ts'
import { isParameterName, PARAMETER_FACTS } from '../records/parameter.ts'
import type { ResolvedLimit } from './resolve-limits.ts'

export interface Sample {
  readonly motor: string
  readonly serialNumber: string
  /** Null: not identified yet. */
  readonly fit: FitDocument | null
  readonly entries: readonly HandEntry[]
  /** Name of its type where that is another than the one judged by. */
  readonly otherType?: string | null
}

/** One quantity of one sample against its limits. */
export interface QuantityVerdict {
  readonly quantity: string
  readonly label: string
  readonly unit: string
  readonly value: number | null
  readonly standardUncertainty: number | null
  readonly band: ToleranceBand
  readonly nominal: number | null
  readonly verdict: Verdict
  /** Probability that the true value lies within the limits; null where there is no value. */
  readonly conformity: number | null
  /** Half the tolerance over the expanded uncertainty. */
  readonly uncertaintyRatio: number | null
  /** Why it is undecided, or what makes the number doubtful; empty otherwise. */
  readonly remark: string
}

const labelOf = (quantity: string): string =>
  isParameterName(quantity) ? PARAMETER_FACTS[quantity].label : quantity

export function judgeQuantity(
  sample: Sample,
  limit: ResolvedLimit,
  rule: DecisionRule,
  /** Why the value, if it comes of a fit, cannot be held against this limit; null where it can. */
  notComparable: string | null = null,
): QuantityVerdict {
  const entry = sample.entries.find(e => e.quantity === limit.quantity)
  const reading = entry
    ? readingOfEntry(entry)
    : sample.fit
      ? readingOf(sample.fit, limit.quantity, limit.atVolt)
      : null
  const head = {
    quantity: limit.quantity,
    unit: limit.unit,
    band: limit.band,
    nominal: limit.nominal,
  }
  const none = { value: null, standardUncertainty: null, conformity: null, uncertaintyRatio: null }
  const undecided = (remark: string, label: string = labelOf(limit.quantity)): QuantityVerdict => ({
    ...head,
    ...none,
    label,
    verdict: 'undecided',
    remark,
  })
  if (!reading) {
    return undecided(
      sample.fit === null
        ? 'the sample has not been identified, and nothing was typed in'
        : 'its tests did not determine this number',
    )
  }
  if (reading.unit !== limit.unit) {
    return undecided(
      `measured in ${reading.unit}, but the limits are in ${limit.unit}`,
      reading.label,
    )
  }
  const { value, standardUncertainty, label } = reading
  if (!entry && notComparable !== null) {
    return { ...undecided(notComparable, label), value, standardUncertainty }
  }
  const measured = { value, standardUncertainty }
  const verdict = decide(measured, limit.band, rule)
  const ratio =
    standardUncertainty > 0
      ? testUncertaintyRatio(limit.band, standardUncertainty, limit.nominal ?? value)
      : null
  return {
    ...head,
    label,
    value,
    standardUncertainty,
    verdict,
    conformity: conformityProbability(measured, limit.band),
    uncertaintyRatio: ratio,
    remark: verdict === 'undecided' ? 'too close to a limit for the uncertainty of the test' : '',
  }
}
