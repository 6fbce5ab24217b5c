import type { FitDocument } from '../contract/fit-document.ts'
import { isParameterName, PARAMETER_FACTS, type ParameterName } from '../records/parameter.ts'
import { mean, variance } from '../statistics/describe.ts'
import { normalProbability } from '../statistics/distributions.ts'
import { type DecisionRule, guardBand, testUncertaintyRatio } from './conformity.ts'
import { readingOf } from './judged-quantity.ts'
import type { ResolvedLimit } from './resolve-limits.ts'
import { allowForPositions, referenceScatter, widenedFit } from './widened-fit.ts'

/** How much a set of tests looks at a motor. */
export interface TestEffort {
  /** Shaft positions at which the rotor is locked. */
  readonly positions: number
  /** Seconds for which the free shaft is driven. */
  readonly turningSec: number
  /** The shaft starts on a stair of small voltages, and only just turns for a while. */
  readonly withStart: boolean
}

/** What is known beforehand of the uncertainty of a short test. */
export interface Experience {
  readonly reference: FitDocument
  /** Null where the reference was not tested by plans (imports): its uncertainties are taken as they are. */
  readonly referenceEffort: TestEffort | null
  readonly shortEffort: TestEffort
  /** Identifications of earlier short tests of the type, by motor. */
  readonly earlier: readonly (readonly FitDocument[])[]
}

export interface PredictedQuantity {
  readonly quantity: string
  readonly label: string
  readonly unit: string
  /** Null: nothing is known; for entries by hand, nothing is needed. */
  readonly standardUncertainty: number | null
  /** Test uncertainty ratio: half the tolerance over the expanded uncertainty. */
  readonly uncertaintyRatio: number | null
  /** Share of tests of a motor at the reference's value that will end in 'pass'. */
  readonly passShare: number | null
  /** What the prediction rests on, in words. */
  readonly basis: string
  /** Empty where the test can decide. */
  readonly warning: string
}

/** Below this share the test decides nothing; below the second it leaves too many undecided. */
const CANNOT_DECIDE = 0.5
const OFTEN_UNDECIDED = 0.95
const FEWEST_EARLIER = 3
const HELD: ReadonlySet<string> = new Set(['resistance', 'inductance', 'brushDrop'])
const FRICTION: ReadonlySet<string> = new Set([
  'coulombTorque',
  'viscousCoefficient',
  'windageCoefficient',
])
/**
 * A shaft that only just turns has another friction than one that runs, and no law fits both: by so much the
 * uncertainty of friction grows. Median of the joint study in test/studies/simulated-lots.md.
 */
const PRICE_OF_START = 4

/**
 * The uncertainty that a short test will have of each limited quantity, against its limits. From earlier
 * short tests of the type where there are `FEWEST_EARLIER`: the root mean square of what they stated, or the
 * scatter of repeats on one motor where that is larger. Else from the identification of the reference, its
 * random part scaled by the root of the efforts, what calibration adds kept as it is.
 */
export function predictUncertainties(
  limits: readonly ResolvedLimit[],
  experience: Experience,
  rule: DecisionRule,
): PredictedQuantity[] {
  const scaled = scaledFit(experience)
  return limits.map(limit => {
    const known = readingOf(experience.reference, limit.quantity, limit.atVolt)
    if (!known) return unknown(limit, limit.nominal === null)
    const earlier = fromEarlier(limit, experience.earlier)
    const u =
      earlier?.u ?? readingOf(scaled, limit.quantity, limit.atVolt)?.standardUncertainty ?? 0
    if (!(u > 0)) return unknown(limit, false)
    const share = passShare(limit, u, rule)
    return {
      quantity: limit.quantity,
      label: known.label,
      unit: limit.unit,
      standardUncertainty: u,
      uncertaintyRatio: testUncertaintyRatio(limit.band, u, limit.nominal ?? known.value),
      passShare: share,
      basis: earlier?.basis ?? 'the identification of the reference',
      warning:
        share < CANNOT_DECIDE
          ? 'this test cannot decide: the uncertainty takes up the tolerance; use the guided sequence, or wider limits'
          : share < OFTEN_UNDECIDED
            ? `even a motor like the reference will be undecided in ${Math.round(100 * (1 - share))} % of the tests`
            : '',
    }
  })
}

/**
 * Probability that a measurement of a motor at the nominal value lies in the acceptance zone:
 *   Φ((T_U − w − μ)/u) − Φ((T_L + w − μ)/u),  w the guard band.
 */
export function passShare(limit: ResolvedLimit, u: number, rule: DecisionRule): number {
  const { lower, upper } = limit.band
  const w = guardBand(u, rule)
  const middle = limit.nominal ?? mean([lower ?? upper!, upper ?? lower!])
  const above = upper === null ? 1 : normalProbability((upper - w - middle) / u)
  const below = lower === null ? 0 : normalProbability((lower + w - middle) / u)
  return Math.max(0, above - below)
}

function unknown(limit: ResolvedLimit, byHand: boolean): PredictedQuantity {
  return {
    quantity: limit.quantity,
    label: isParameterName(limit.quantity) ? PARAMETER_FACTS[limit.quantity].label : limit.quantity,
    unit: limit.unit,
    standardUncertainty: null,
    uncertaintyRatio: null,
    passShare: null,
    basis: byHand ? 'typed in by hand' : 'the reference does not have it',
    warning: byHand
      ? ''
      : 'nothing is known of its uncertainty: identify the reference with a short test',
  }
}

function fromEarlier(
  limit: ResolvedLimit,
  earlier: Experience['earlier'],
): { u: number; basis: string } | null {
  const groups = earlier.map(fits =>
    fits.flatMap(fit => readingOf(fit, limit.quantity, limit.atVolt) ?? []),
  )
  const all = groups.flat()
  if (all.length < FEWEST_EARLIER) return null
  const stated = Math.sqrt(mean(all.map(each => each.standardUncertainty ** 2)))
  const repeated = groups.filter(group => group.length >= 2)
  const freedom = repeated.reduce((sum, group) => sum + group.length - 1, 0)
  const pooled = Math.sqrt(
    repeated.reduce((sum, g) => sum + (g.length - 1) * variance(g.map(e => e.value)), 0) / freedom,
  )
  return freedom >= FEWEST_EARLIER - 1 && pooled > stated
    ? { u: pooled, basis: `repeats among ${all.length} short tests` }
    : { u: stated, basis: `${all.length} short tests before` }
}

/** The reference as a test of the short one's effort would have left it. */
function scaledFit({ reference, referenceEffort, shortEffort }: Experience): FitDocument {
  const price = (name: string) =>
    shortEffort.withStart && !referenceEffort?.withStart && FRICTION.has(name) ? PRICE_OF_START : 1
  const factor = (name: string) => {
    if (!referenceEffort) return price(name)
    const [long, short] = HELD.has(name)
      ? [referenceEffort.positions, shortEffort.positions]
      : [referenceEffort.turningSec, shortEffort.turningSec]
    return price(name) * (long > 0 && short > 0 ? Math.sqrt(long / short) : 1)
  }
  const scaled = (name: ParameterName, u: number) => {
    const lines = reference.budget[name] ?? []
    const typeB = lines.reduce(
      (sum, line) => sum + (line.kind === 'B' ? line.standardUncertainty ** 2 : 0),
      0,
    )
    const random = Math.max(0, u * u - typeB)
    return Math.sqrt(random * factor(name) ** 2 + Math.min(typeB, u * u))
  }
  return allowForPositions(
    widenedFit(reference, scaled),
    referenceScatter([reference]),
    shortEffort.positions,
  )
}
