import type { ControlChart } from './control-chart.ts'

/**
 * Patterns that a process in control hardly ever makes, written out. Source: ISO 7870-2 (tests for
 * special causes), from memory; the counts are those in wide use.
 */
export const RUN_RULES = {
  'beyond-limit': 'one point beyond a control limit',
  'nine-on-one-side': 'nine points in a row on one side of the centre line',
  'six-in-a-trend': 'six points in a row rising, or falling',
  'fourteen-alternating': 'fourteen points in a row alternating up and down',
  'two-of-three-outer': 'two of three points in a row beyond two sigma on one side',
  'four-of-five-outer': 'four of five points in a row beyond one sigma on one side',
} as const

export type RunRule = keyof typeof RUN_RULES

export interface RuleHit {
  readonly rule: RunRule
  readonly chart: ControlChart['name']
  /** The point at which the pattern is complete, from 0. */
  readonly at: number
}

/** Every point at which a pattern is complete, in the order of the points. Charts of ranges take the first rule only. */
export function runRuleHits(chart: ControlChart): RuleHit[] {
  const { points, centre, sigma } = chart
  const z = points.map(point => (point - centre) / sigma)
  const onlyLimits =
    chart.name === 'moving-range' || chart.name === 'range' || chart.name === 'ewma'
  const hits: RuleHit[] = []
  const hit = (rule: RunRule, at: number) => hits.push({ rule, chart: chart.name, at })
  for (const [at, point] of points.entries()) {
    if (point > chart.upper[at]! || point < chart.lower[at]!) hit('beyond-limit', at)
    if (onlyLimits || !(sigma > 0)) continue
    const last = (count: number) => (at + 1 >= count ? z.slice(at + 1 - count, at + 1) : null)
    const beyond = (values: readonly number[] | null, least: number, bound: number) =>
      values !== null &&
      (values.filter(v => v > bound).length >= least ||
        values.filter(v => v < -bound).length >= least)
    if (beyond(last(9), 9, 0)) hit('nine-on-one-side', at)
    const six = last(6)
    if (six && (isMonotone(six, 1) || isMonotone(six, -1))) hit('six-in-a-trend', at)
    const fourteen = last(14)
    if (fourteen && isAlternating(fourteen)) hit('fourteen-alternating', at)
    if (beyond(last(3), 2, 2)) hit('two-of-three-outer', at)
    if (beyond(last(5), 4, 1)) hit('four-of-five-outer', at)
  }
  return hits
}

function isMonotone(values: readonly number[], direction: 1 | -1): boolean {
  return values.every((value, i) => i === 0 || direction * (value - values[i - 1]!) > 0)
}

function isAlternating(values: readonly number[]): boolean {
  return values.every(
    (value, i) => i < 2 || (value - values[i - 1]!) * (values[i - 1]! - values[i - 2]!) < 0,
  )
}
