import { type ControlChart, individualsCharts } from './control-chart.ts'
import { RUN_RULES, type RuleHit, runRuleHits } from './run-rules.ts'

/** The control chart of one quantity of a check motor: the same motor, so what moves is the bench. */
export interface CheckChart {
  readonly quantity: string
  readonly label: string
  readonly unit: string
  readonly values: readonly number[]
  /** With limits from all measurements before the newest; null for too few. */
  readonly chart: ControlChart | null
  readonly hits: readonly RuleHit[]
  /** What the newest measurement says against the bench, in words; empty where nothing. */
  readonly drift: string
  /** Why nothing can be said; empty where it can. */
  readonly remark: string
}

/** Fewest measurements before the newest from which its limits are drawn. Common practice, no source. */
export const FEWEST_CHECKS = 5

/** The newest measurement against all before it. */
export function checkChart(
  head: Pick<CheckChart, 'quantity' | 'label' | 'unit'>,
  values: readonly number[],
): CheckChart {
  const nothing = { ...head, values, chart: null, hits: [], drift: '' }
  if (values.length <= FEWEST_CHECKS) {
    return {
      ...nothing,
      remark: `${values.length} of ${FEWEST_CHECKS + 1} measurements that a control chart needs`,
    }
  }
  const base = individualsCharts(values.slice(0, -1)).individuals
  if (!(base.sigma > 0))
    return { ...nothing, remark: 'the earlier measurements do not differ at all' }
  const chart: ControlChart = {
    ...base,
    points: values,
    lower: values.map(() => base.centre - 3 * base.sigma),
    upper: values.map(() => base.centre + 3 * base.sigma),
  }
  const hits = runRuleHits(chart)
  const now = hits.filter(hit => hit.at === values.length - 1).map(hit => RUN_RULES[hit.rule])
  const share = (100 * (values.at(-1)! - base.centre)) / Math.abs(base.centre)
  return {
    ...head,
    values,
    chart,
    hits,
    drift:
      now.length === 0
        ? ''
        : `${head.label} of the check motor is ${Math.abs(share).toPrecision(2)} % ${share > 0 ? 'above' : 'below'} its mean: ${now.join('; ')}`,
    remark: '',
  }
}
