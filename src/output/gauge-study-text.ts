import { quantityText, shareText } from '../base/quantity-text.ts'
import type { GaugeStudy } from '../quality/gauge-study.ts'
import { textTable } from './text-table.ts'

/** A gauge study for a terminal. */
export function gaugeStudyText(quantity: string, unit: string, study: GaugeStudy): string {
  const table = textTable(
    [
      { title: 'source', align: 'left' },
      { title: 'standard deviation', align: 'right' },
      { title: 'of the total', align: 'right' },
    ],
    (
      [
        ['repeatability', study.repeatability],
        ['reproducibility', study.reproducibility],
        ['bench and operators together', study.gauge],
        ['motors', study.parts],
        ['total', study.total],
      ] as const
    ).map(([source, sigma]) => [
      source,
      quantityText(sigma, unit).text,
      shareText(sigma / study.total),
    ]),
  )
  const pooled = study.interactionPooled
    ? 'operators and motors do not interact; pooled with the repeatability'
    : 'operators and motors interact: some operators measure some motors differently'
  return `${quantity}\n\n${table}\n${pooled}\nthe bench tells ${study.distinctCategories} classes of motor apart\n`
}
