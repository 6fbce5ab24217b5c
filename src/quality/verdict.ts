import { quantityText } from '../base/quantity-text.ts'
import { neededFor } from '../identify/derived.ts'
import { isParameterName, PARAMETER_FACTS } from '../records/parameter.ts'
import type { DecisionRule, Verdict } from './conformity.ts'
import { judgeQuantity, type QuantityVerdict, type Sample } from './quantity-verdict.ts'
import type { ResolvedLimit } from './resolve-limits.ts'
import { whatStandsOut } from './stands-out.ts'

export interface SampleVerdict {
  readonly motor: string
  readonly serialNumber: string
  readonly verdict: Verdict
  readonly quantities: readonly QuantityVerdict[]
  /** What stands out against the reference and what it points to, in words. */
  readonly standsOut: readonly string[]
  readonly warnings: readonly string[]
  /** False where its values say nothing of the batch: another type, another temperature. */
  readonly countsInBatch: boolean
}

/** Beyond this the friction of a sample is no longer that of the reference temperature. */
const FAR_FROM_REFERENCE_KELVIN = 15

/** What a fit converts to the reference temperature. Friction, grease and magnets stay as they were tested. */
const CONVERTED: ReadonlySet<string> = new Set(['resistance', 'inductance', 'resistanceScatter'])

/**
 * The verdict on a sample: failed where one quantity fails, undecided where one is undecided or missing,
 * passed otherwise. What cannot be compared (another type, another reference temperature, friction and
 * magnets of a motor tested far from it, a number that was not measured but held by hand) is undecided,
 * whatever the number says.
 */
export function judgeSample(
  sample: Sample,
  limits: readonly ResolvedLimit[],
  referenceTemperatureCelsius: number,
  rule: DecisionRule,
): SampleVerdict {
  const whole = strangerText(sample) ?? otherReferenceText(sample, referenceTemperatureCelsius)
  const far = farText(sample, referenceTemperatureCelsius)
  const quantities = limits.map(limit =>
    judgeQuantity(
      sample,
      limit,
      rule,
      whole ??
        (far !== null && !CONVERTED.has(limit.quantity) ? far : null) ??
        heldText(sample, limit.quantity),
    ),
  )
  const warning = whole ?? far
  const verdict = quantities.some(q => q.verdict === 'fail')
    ? 'fail'
    : quantities.length === 0 || quantities.some(q => q.verdict === 'undecided')
      ? 'undecided'
      : 'pass'
  return {
    motor: sample.motor,
    serialNumber: sample.serialNumber,
    verdict,
    quantities,
    standsOut: whole === null ? whatStandsOut(quantities) : [],
    warnings: warning === null ? [] : [warning],
    countsInBatch: whole === null,
  }
}

function strangerText({ otherType }: Sample): string | null {
  return otherType ? `a '${otherType}', which these limits are not made for` : null
}

function otherReferenceText({ fit }: Sample, referenceCelsius: number): string | null {
  return fit && fit.referenceTemperatureCelsius !== referenceCelsius
    ? `identified for ${fit.referenceTemperatureCelsius} °C, but the limits hold at ${referenceCelsius} °C: fit it again with --reference-temperature ${referenceCelsius}`
    : null
}

function farText({ fit }: Sample, referenceCelsius: number): string | null {
  const tested = fit?.testTemperatureCelsius ?? null
  return tested !== null && Math.abs(tested - referenceCelsius) > FAR_FROM_REFERENCE_KELVIN
    ? `tested at ${tested.toFixed(0)} °C against limits at ${referenceCelsius} °C: resistance is converted, friction and magnets are not; test it again at room temperature`
    : null
}

/** A number that somebody typed into the identification says nothing of the sample. */
function heldText({ fit }: Sample, quantity: string): string | null {
  const rests = isParameterName(quantity) ? [quantity] : neededFor(quantity)
  const held = fit && rests.find(name => fit.parameters[name]?.status === 'fixed')
  if (!held) return null
  const { value, unit } = fit.parameters[held]!
  const { label } = PARAMETER_FACTS[held]
  return `not measured: ${label.toLowerCase()} was held at ${quantityText(value!, unit, null).text} in the identification; identify it again without`
}
