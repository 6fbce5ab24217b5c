import { quantityText } from '../base/quantity-text.ts'
import type { Finding } from '../drive/finding.ts'
import { textTable } from './text-table.ts'

const BASIS_WORDS: Readonly<Record<Finding['basis'], string>> = {
  physics: '',
  bound: 'bound',
  'rule-of-thumb': 'rule of thumb',
}

/** What a drive must withstand, for a terminal: numbers first, then how each was found. */
export function findingsText(motor: string, drive: string, findings: readonly Finding[]): string {
  const told = findings.filter(f => f.value !== null)
  const table = textTable(
    [
      { title: 'what', align: 'left' },
      { title: 'value(u)', align: 'right' },
      { title: '', align: 'left' },
    ],
    told.map(f => [
      f.label,
      quantityText(f.value, f.unit, f.standardUncertainty).text,
      BASIS_WORDS[f.basis],
    ]),
  )
  const how = told.map(f => {
    const inputs = f.inputs.map(i => `${i.name} ${quantityText(i.value, i.unit).text}`).join(', ')
    return `${f.label}\n  ${f.formula}\n  with ${inputs || 'the parameters alone'}\n  holds: ${f.validity}`
  })
  const untold = findings
    .filter(f => f.value === null)
    .map(f => `${f.label}: not told, ${f.reason}`)
  const parts = [...(told.length > 0 ? [table.trimEnd()] : []), ...how, ...untold]
  return `${motor} behind ${drive}\n\n${parts.join('\n\n')}\n`
}
