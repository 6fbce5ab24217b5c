import { normalProbability, normalQuantile } from '../statistics/distributions.ts'

/** A tolerance on one quantity: at least one side. */
export interface ToleranceBand {
  readonly lower: number | null
  readonly upper: number | null
}

/** A measured value with its standard uncertainty, taken as normal. */
export interface Measured {
  readonly value: number
  readonly standardUncertainty: number
}

/**
 * How a verdict is reached:
 * - `simple`: the value against the limits, uncertainty left out (JCGM 106, 8.2);
 * - `conformity`: pass or fail only where that is at least this probable (ISO 14253-1: 0.95), else undecided;
 * - `consumer-risk`: pass where the risk of accepting a bad one is at most this; otherwise fail where even
 *   the opposite holds, else undecided.
 */
export type DecisionRule =
  | { readonly kind: 'simple' }
  | { readonly kind: 'conformity'; readonly probability: number }
  | { readonly kind: 'consumer-risk'; readonly risk: number }

export const DEFAULT_DECISION_RULE: DecisionRule = { kind: 'conformity', probability: 0.95 }

export type Verdict = 'pass' | 'fail' | 'undecided'

/**
 * Probability that the true value lies within the band:
 *   p_c = Φ((T_U − y)/u) − Φ((T_L − y)/u)
 * No knowledge beyond the measurement is used. Source: JCGM 106:2012, 7.4 and 7.5.
 */
export function conformityProbability(measured: Measured, band: ToleranceBand): number {
  checkBand(band)
  const { value, standardUncertainty: u } = measured
  if (!(u >= 0)) throw new RangeError(`standardUncertainty = ${u}; must be a number >= 0`)
  if (u === 0) return isInside(value, band) ? 1 : 0
  const above = band.upper === null ? 1 : normalProbability((band.upper - value) / u)
  const below = band.lower === null ? 0 : normalProbability((band.lower - value) / u)
  return above - below
}

/** The conformity that a rule asks for; 0.5 for simple acceptance at a limit far from the other. */
export function requiredConformity(rule: DecisionRule): number {
  switch (rule.kind) {
    case 'simple':
      return 0.5
    case 'conformity':
      return rule.probability
    case 'consumer-risk':
      return 1 - rule.risk
    default:
      return rule satisfies never
  }
}

export function decide(measured: Measured, band: ToleranceBand, rule: DecisionRule): Verdict {
  checkRule(rule)
  if (rule.kind === 'simple') return isInside(measured.value, band) ? 'pass' : 'fail'
  const conforming = conformityProbability(measured, band)
  const required = requiredConformity(rule)
  if (conforming >= required) return 'pass'
  return 1 - conforming >= required ? 'fail' : 'undecided'
}

/** Width by which the acceptance zone is drawn in at a limit, w = z u (one limit at work). */
export function guardBand(standardUncertainty: number, rule: DecisionRule): number {
  checkRule(rule)
  return rule.kind === 'simple' ? 0 : normalQuantile(requiredConformity(rule)) * standardUncertainty
}

/**
 * Test uncertainty ratio: half the width of the band over the expanded uncertainty (k = 2); of a one-sided
 * limit the distance of `nominal` from it. Below about 4 the guard band eats a good part of the tolerance
 * (common practice, no source).
 */
export function testUncertaintyRatio(
  band: ToleranceBand,
  standardUncertainty: number,
  nominal: number,
): number {
  checkBand(band)
  const room =
    band.lower !== null && band.upper !== null
      ? (band.upper - band.lower) / 2
      : Math.abs(nominal - (band.lower ?? band.upper)!)
  return room / (2 * standardUncertainty)
}

export function isInside(value: number, band: ToleranceBand): boolean {
  return (
    (band.lower === null || value >= band.lower) && (band.upper === null || value <= band.upper)
  )
}

function checkBand(band: ToleranceBand): void {
  if (band.lower === null && band.upper === null) {
    throw new RangeError('band has neither a lower nor an upper limit; must have one')
  }
  if (band.lower !== null && band.upper !== null && band.lower >= band.upper) {
    throw new RangeError(`band.lower = ${band.lower}; must be below band.upper = ${band.upper}`)
  }
}

function checkRule(rule: DecisionRule): void {
  const required = requiredConformity(rule)
  if (!(required >= 0.5 && required < 1)) {
    throw new RangeError(`required conformity = ${required}; must be from 0.5 to below 1`)
  }
}
