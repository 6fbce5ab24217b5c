import { mean, standardDeviation } from '../statistics/describe.ts'
import { type GrubbsResult, grubbsTest } from '../statistics/outliers.ts'
import { type SpreadIndices, spreadIndices } from './capability.ts'
import type { ToleranceBand } from './conformity.ts'
import {
  type ControlChart,
  ewmaChart,
  FEWEST_CHART_POINTS,
  individualsCharts,
  meanAndRangeCharts,
} from './control-chart.ts'
import { andersonDarling, FEWEST_FOR_NORMALITY, type NormalityTest } from './normality.ts'
import { type MeanComparison, compareMeans } from './two-samples.ts'
import type { SampleVerdict } from './verdict.ts'
import { RUN_RULES, type RuleHit, runRuleHits } from './run-rules.ts'
import { type ToleranceInterval, toleranceInterval } from './tolerance-interval.ts'

/** How one quantity is spread over the samples of a batch, in the order in which they were judged. */
export interface BatchQuantity {
  readonly quantity: string
  readonly label: string
  readonly unit: string
  readonly band: ToleranceBand
  /** Motors behind the values, and the values. */
  readonly motors: readonly string[]
  readonly values: readonly number[]
  readonly mean: number
  /** Overall standard deviation; null for one value. */
  readonly sigma: number | null
  /** In the order in which a reader looks at them; none for too few values. */
  readonly charts: readonly ControlChart[]
  /** Spread by which the charts count: of neighbouring values, or within subgroups; null without charts. */
  readonly withinSigma: number | null
  readonly hits: readonly RuleHit[]
  readonly outlier: GrubbsResult | null
  readonly normality: NormalityTest | null
  /** P_p, P_pk: of this batch as it is, no claim of stability. */
  readonly performance: SpreadIndices | null
  /** C_p, C_pk: only of a process in statistical control. */
  readonly capability: SpreadIndices | null
  readonly tolerance: ToleranceInterval | null
  /** Why an index is missing, what to bear in mind. */
  readonly remarks: readonly string[]
}

/** Fewest values for capability indices. Common practice, no source. */
const FEWEST_FOR_CAPABILITY = 20
const NORMALITY_LEVEL = 0.05
/** The test's own uncertainty widens the spread noticeably from this share of it. */
const NOTICEABLE_TEST_SHARE = 0.3

/**
 * One entry a limited quantity that at least one sample has. `subgroupSize`: samples that were made or tested
 * together, so many in a row; null where each stands for itself.
 */
export function analyseBatch(
  verdicts: readonly SampleVerdict[],
  subgroupSize: number | null = null,
): BatchQuantity[] {
  const counted = verdicts.filter(v => v.countsInBatch)
  const names = [...new Set(counted.flatMap(v => v.quantities.map(q => q.quantity)))]
  return names.flatMap(name => {
    const rows = counted.flatMap(v => {
      const q = v.quantities.find(each => each.quantity === name)
      return q && q.value !== null && q.conformity !== null
        ? [{ motor: v.motor, q, value: q.value }]
        : []
    })
    const first = rows[0]
    if (!first) return []
    const { label, unit, band } = first.q
    const uncertainties = rows.map(row => row.q.standardUncertainty ?? 0)
    return [
      analyseValues({
        quantity: name,
        label,
        unit,
        band,
        motors: rows.map(row => row.motor),
        values: rows.map(row => row.value),
        testUncertainty: Math.sqrt(mean(uncertainties.map(u => u * u))),
        subgroupSize,
      }),
    ]
  })
}

interface Values {
  readonly quantity: string
  readonly label: string
  readonly unit: string
  readonly band: ToleranceBand
  readonly motors: readonly string[]
  readonly values: readonly number[]
  /** Root mean square of the standard uncertainties of the values. */
  readonly testUncertainty: number
  readonly subgroupSize: number | null
}

function analyseValues({ testUncertainty, subgroupSize, ...head }: Values): BatchQuantity {
  const { values, band } = head
  const remarks: string[] = []
  const sigma = values.length >= 2 ? standardDeviation(values) : null
  const hasSpread = sigma !== null && sigma > 0
  const { charts, withinSigma, remark } = hasSpread ? chartsOf(values, subgroupSize) : NO_CHARTS
  if (remark !== '') remarks.push(remark)
  const hits = charts.flatMap(runRuleHits)
  const normality = andersonDarling(values)
  const isNormal = normality !== null && normality.p >= NORMALITY_LEVEL
  if (values.length < FEWEST_FOR_NORMALITY) {
    remarks.push(
      `${valuesText(values.length)}: indices and tolerance intervals need at least ${FEWEST_FOR_NORMALITY}`,
    )
  } else if (!hasSpread) remarks.push('the values do not differ at all: indices mean nothing')
  else if (!isNormal) {
    remarks.push(
      'the values are not spread normally: indices and tolerance intervals would mislead and are not given',
    )
  }
  if (hasSpread && testUncertainty > NOTICEABLE_TEST_SHARE * sigma) {
    remarks.push('a good part of the spread is the uncertainty of the test itself, not the motors')
  }
  const judged = hasSpread && isNormal
  const performance = judged ? spreadIndices(mean(values), sigma, values.length, band) : null
  const inControl =
    withinSigma !== null && hits.length === 0 && values.length >= FEWEST_FOR_CAPABILITY
  if (performance && !inControl) {
    remarks.push(
      hits.length > 0
        ? `not in statistical control (${[...new Set(hits.map(hit => RUN_RULES[hit.rule]))].join('; ')}): performance indices only`
        : `stability not shown by ${values.length} values (${FEWEST_FOR_CAPABILITY} are usual): performance indices only`,
    )
  }
  return {
    ...head,
    mean: mean(values),
    sigma,
    charts,
    withinSigma,
    hits,
    outlier: grubbsTest(values),
    normality,
    performance,
    capability:
      judged && inControl ? spreadIndices(mean(values), withinSigma, values.length, band) : null,
    tolerance: judged ? toleranceInterval(values) : null,
    remarks,
  }
}

interface Charts {
  readonly charts: readonly ControlChart[]
  readonly withinSigma: number | null
  readonly remark: string
}

const NO_CHARTS: Charts = { charts: [], withinSigma: null, remark: '' }

/**
 * Individuals and moving range, or mean and range of subgroups, and with either the moving average, which
 * sees small lasting shifts, about the mean of the batch.
 */
function chartsOf(values: readonly number[], subgroupSize: number | null): Charts {
  if (subgroupSize !== null) {
    const groups = Array.from({ length: Math.floor(values.length / subgroupSize) }, (_, i) =>
      values.slice(i * subgroupSize, (i + 1) * subgroupSize),
    )
    const rest = values.length - groups.length * subgroupSize
    if (groups.length >= FEWEST_CHART_POINTS) {
      const { mean: means, range, withinSigma } = meanAndRangeCharts(groups)
      return {
        charts: [means, range, ewmaChart(values, mean(values), withinSigma)],
        withinSigma,
        remark:
          rest === 0
            ? ''
            : `the last ${rest === 1 ? 'value fills' : `${rest} values fill`} no subgroup of ${subgroupSize} and ${rest === 1 ? 'is' : 'are'} not in the charts of means and ranges`,
      }
    }
    return {
      ...NO_CHARTS,
      remark: `${valuesText(values.length)} make ${groups.length} full ${groups.length === 1 ? 'subgroup' : 'subgroups'} of ${subgroupSize}; charts of them need at least ${FEWEST_CHART_POINTS}`,
    }
  }
  if (values.length < FEWEST_CHART_POINTS) return NO_CHARTS
  const { individuals, movingRange } = individualsCharts(values)
  return {
    charts: [individuals, movingRange, ewmaChart(values, mean(values), individuals.sigma)],
    withinSigma: individuals.sigma,
    remark: '',
  }
}

/** The same quantity in two batches. Quantities with fewer than two values in either are left out. */
export function compareBatches(
  first: readonly BatchQuantity[],
  second: readonly BatchQuantity[],
): { quantity: string; label: string; unit: string; comparison: MeanComparison }[] {
  return first.flatMap(a => {
    const b = second.find(each => each.quantity === a.quantity)
    if (!b || a.values.length < 2 || b.values.length < 2) return []
    return [
      {
        quantity: a.quantity,
        label: a.label,
        unit: a.unit,
        comparison: compareMeans(a.values, b.values),
      },
    ]
  })
}

export const valuesText = (count: number): string => (count === 1 ? '1 value' : `${count} values`)
