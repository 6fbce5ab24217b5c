import { quantityText } from '../base/quantity-text.ts'
import type { CheckChart } from '../quality/check-motor.ts'
import { textTable } from './text-table.ts'

interface Check {
  readonly motor: string
  readonly rig: string | null
  readonly charts: readonly CheckChart[]
  readonly warnings: readonly string[]
}

/** The control charts of a check motor for a terminal: the newest measurement within its limits. */
export function benchCheckText({ motor, rig, charts, warnings }: Check): string {
  const table = textTable(
    [
      { title: 'quantity', align: 'left' },
      { title: 'newest', align: 'right' },
      { title: 'lower limit', align: 'right' },
      { title: 'mean', align: 'right' },
      { title: 'upper limit', align: 'right' },
      { title: '', align: 'left' },
    ],
    charts.map(({ label, unit, values, chart, drift, remark }) => {
      const show = (value: number | undefined) =>
        value === undefined ? '' : quantityText(value, unit).text
      return [
        label,
        show(values.at(-1)),
        show(chart?.lower[0]),
        show(chart?.centre),
        show(chart?.upper[0]),
        drift === '' ? remark : '✗ drifted',
      ]
    }),
  )
  const verdict =
    warnings.length > 0
      ? warnings.map(warning => `warning: ${warning}\n`).join('')
      : charts.some(chart => chart.chart !== null)
        ? '✓ no drift of the bench is seen\n'
        : ''
  return `check motor '${motor}'${rig === null ? '' : `, rig ${rig}`}\n\n${table}${verdict}`
}
