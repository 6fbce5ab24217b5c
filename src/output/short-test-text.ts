import { quantityText } from '../base/quantity-text.ts'
import type { ShortTest } from '../procedure/plan-short-test.ts'
import type { PredictedQuantity } from '../quality/predict-uncertainty.ts'
import type { QuantityVerdict } from '../quality/quantity-verdict.ts'
import type { SampleVerdict } from '../quality/verdict.ts'
import { VERDICT_WORDS } from './comparison-text.ts'
import { textTable } from './text-table.ts'

/** What a short test will do and how well it will know each limited quantity. */
export function shortTestPlanText(
  test: ShortTest,
  prediction: readonly PredictedQuantity[],
): string {
  const where = test.positions === 1 ? '1 shaft position' : `${test.positions} shaft positions`
  const table = textTable(
    [
      { title: 'quantity', align: 'left' },
      { title: 'uncertainty expected', align: 'right' },
      { title: 'test uncertainty ratio', align: 'right' },
      { title: 'by', align: 'left' },
    ],
    prediction.map(p => [
      p.label,
      p.standardUncertainty === null ? '' : quantityText(p.standardUncertainty, p.unit).text,
      p.uncertaintyRatio === null ? '' : p.uncertaintyRatio.toPrecision(2),
      p.basis,
    ]),
  )
  const warnings = prediction
    .filter(p => p.warning !== '')
    .map(p => `warning: ${p.label}: ${p.warning}\n`)
  return `short test: ${test.drivenSec.toFixed(1)} s of driving, locked at ${where}\n\n${table}${warnings.join('')}`
}

/** The verdict on one sample, for a terminal beside a scanner. */
export function sampleText(sample: SampleVerdict): string {
  const lines = [
    `${VERDICT_WORDS[sample.verdict]}  ${sample.motor}${sample.serialNumber === '' ? '' : `, serial number ${sample.serialNumber}`}`,
    ...sample.quantities.map(quantityLine),
    ...sample.standsOut.map(text => `  ${text}`),
    ...sample.warnings.map(text => `  warning: ${text}`),
  ]
  return `${lines.join('\n')}\n`
}

function quantityLine(q: QuantityVerdict): string {
  const value = q.value === null ? 'no value' : quantityText(q.value, q.unit).text
  const sure = q.conformity === null ? '' : `, conforms with ${(100 * q.conformity).toFixed(1)} %`
  const remark = q.remark === '' ? '' : `: ${q.remark}`
  return `  ${VERDICT_WORDS[q.verdict]}  ${q.label} ${value}${sure}${remark}`
}
