import { intervalText, quantityText, shareText } from '../base/quantity-text.ts'
import { type BatchQuantity, valuesText } from '../quality/batch-analysis.ts'
import type { SpreadIndices } from '../quality/capability.ts'
import type { ControlChart } from '../quality/control-chart.ts'
import { RUN_RULES } from '../quality/run-rules.ts'
import type { SampleVerdict } from '../quality/verdict.ts'
import { CHART_WORDS } from './batch/control-chart-picture.ts'
import { wordsOf } from './batch/sample-words.ts'
import { meanText, sigmaText } from './batch/spread-words.ts'
import { textTable } from './text-table.ts'

interface Comparison {
  readonly batch: string
  readonly type: string
  readonly counts: Readonly<Record<SampleVerdict['verdict'], number>>
  readonly samples: readonly SampleVerdict[]
  readonly quantities: readonly BatchQuantity[]
  readonly warnings: readonly string[]
}

export const VERDICT_WORDS: Readonly<Record<SampleVerdict['verdict'], string>> = {
  pass: '✓ pass',
  fail: '✗ FAIL',
  undecided: '? undecided',
}

/** A judged batch for a terminal: the count, a line a sample, the spread of each quantity. */
export function comparisonText(comparison: Comparison): string {
  const { counts, samples, quantities, warnings } = comparison
  const head = `${comparison.batch} against ${comparison.type}: ${counts.pass} pass, ${counts.fail} fail, ${counts.undecided} undecided`
  const parts = [
    head,
    sampleTable(samples),
    ...quantities.map(spreadText),
    ...warnings.map(w => `warning: ${w}`),
  ]
  return `${parts.filter(part => part !== '').join('\n\n')}\n`
}

function sampleTable(samples: readonly SampleVerdict[]): string {
  return textTable(
    [
      { title: 'motor', align: 'left' },
      { title: 'serial number', align: 'left' },
      { title: 'verdict', align: 'left' },
      { title: 'what stands out', align: 'left' },
    ],
    samples.map(s => [s.motor, s.serialNumber, VERDICT_WORDS[s.verdict], wordsOf(s)]),
  ).trimEnd()
}

function spreadText(q: BatchQuantity): string {
  const band = [q.band.lower, q.band.upper].map(end =>
    end === null ? '' : quantityText(end, q.unit).text,
  )
  const lines = [
    `${q.label}: ${valuesText(q.values.length)}, mean ${meanText(q)}${q.sigma === null ? '' : `, standard deviation ${sigmaText(q)}`}, limits ${band.join(' … ')}`,
    q.performance ? indexLine('P', q.performance) : '',
    q.capability ? indexLine('C', q.capability) : '',
    q.tolerance
      ? `  ${shareText(q.tolerance.coverage)} of the motors lie within ${intervalText(q.tolerance.lower, q.tolerance.upper, q.unit).text} (${shareText(q.tolerance.confidence)} confidence)`
      : '',
    q.outlier?.isOutlier ? `  outlier (Grubbs, 5 %): '${q.motors[q.outlier.index]}'` : '',
    ...q.charts.map(chart => chartLine(q, chart)),
    ...q.remarks.map(remark => `  ${remark}`),
  ]
  return lines.filter(line => line !== '').join('\n')
}

function chartLine({ unit, hits }: BatchQuantity, chart: ControlChart): string {
  const own = hits.filter(hit => hit.chart === chart.name)
  const seen = own.map(hit => `${RUN_RULES[hit.rule]} (at ${hit.at + 1})`).join('; ')
  const limits = [chart.lower[0]!, chart.upper[0]!].map(limit => quantityText(limit, unit).text)
  return `  chart, ${CHART_WORDS[chart.name].toLowerCase()}: centre ${quantityText(chart.centre, unit).text}, limits ${limits.join(' … ')}; ${seen || 'no run rule broken'}`
}

function indexLine(letter: 'P' | 'C', indices: SpreadIndices): string {
  const show = (name: string, index: { value: number; lower95: number; upper95: number }) =>
    `${name} ${index.value.toFixed(2)} (${index.lower95.toFixed(2)} … ${index.upper95.toFixed(2)})`
  const both = indices.both ? `${show(`${letter}p`, indices.both)}, ` : ''
  return `  ${both}${show(`${letter}pk`, indices.worst)}, 95 % intervals`
}
