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
}

/** Beyond this the friction of a sample is no longer that of the reference temperature. */
const FAR_FROM_REFERENCE_KELVIN = 15

/**
 * The verdict on a sample: failed where one quantity fails, undecided where one is undecided or missing,
 * passed otherwise.
 */
export function judgeSample(
  sample: Sample,
  limits: readonly ResolvedLimit[],
  referenceTemperatureCelsius: number,
  rule: DecisionRule,
): SampleVerdict {
  const quantities = limits.map(limit => judgeQuantity(sample, limit, rule))
  const verdict = quantities.some(q => q.verdict === 'fail')
    ? 'fail'
    : quantities.some(q => q.verdict === 'undecided')
      ? 'undecided'
      : 'pass'
  return {
    motor: sample.motor,
    serialNumber: sample.serialNumber,
    verdict: limits.length === 0 ? 'undecided' : verdict,
    quantities,
    standsOut: whatStandsOut(quantities),
    warnings: temperatureWarnings(sample, referenceTemperatureCelsius),
  }
}

function temperatureWarnings(sample: Sample, referenceCelsius: number): string[] {
  const { fit } = sample
  if (!fit) return []
  if (fit.referenceTemperatureCelsius !== referenceCelsius) {
    return [
      `identified for ${fit.referenceTemperatureCelsius} °C, but the limits hold at ${referenceCelsius} °C: fit it again with --reference-temperature ${referenceCelsius}`,
    ]
  }
  const tested = fit.testTemperatureCelsius
  if (tested === null || Math.abs(tested - referenceCelsius) <= FAR_FROM_REFERENCE_KELVIN) return []
  return [
    `tested at ${tested.toFixed(0)} °C: resistance is converted to ${referenceCelsius} °C, friction and magnets are not; let the motor come to room temperature`,
  ]
}
