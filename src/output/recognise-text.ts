import { type QuantityText, quantityText } from '../base/quantity-text.ts'
import type {
  Evidence,
  MotorFinding,
  PlateNumber,
  RecogniseDocument,
} from '../contract/recognise-document.ts'
import { textTable } from './text-table.ts'

export const VERDICTS: Readonly<Record<MotorFinding['verdict'], string>> = {
  seen: 'seen',
  'not-seen': 'not seen',
  'cannot-say': 'cannot say',
}

const RPM = 30 / Math.PI

/** What kind of motor it is, for a terminal. */
export function recogniseText(document: RecogniseDocument): string {
  const findings = document.findings.map(finding => {
    const { label, verdict, confidence, text, evidence, runs, test } = finding
    const head = `${label}: ${VERDICTS[verdict]}${confidence ? ` (${confidence})` : ''}`
    const because = verdict === 'cannot-say' ? `because ${text}` : text
    return [
      head,
      `  ${because}`,
      ...(evidence.length > 0 ? [`  ${evidence.map(evidenceText).join('; ')}`] : []),
      ...(runs.length > 0 ? [`  from run${runs.length > 1 ? 's' : ''} ${runs.join(', ')}`] : []),
      ...(test
        ? [`  test that would tell${verdict === 'cannot-say' ? '' : ' more'}: ${test}`]
        : []),
    ].join('\n')
  })
  const plate = textTable(
    [
      { title: 'proposed nameplate', align: 'left' },
      { title: 'value(u)', align: 'right' },
      { title: 'how', align: 'left' },
    ],
    document.nameplate.lines.map(line => [line.label, plateQuantity(line).text, line.basis]),
  ).trimEnd()
  const assumed = document.nameplate.assumptions.map(text => `  ${text}`).join('\n')
  return `${document.motor}, from runs ${document.runs.join(', ')}\n\n${findings.join('\n\n')}\n\n${plate}\n\nAssumed:\n${assumed}\n`
}

export function evidenceText({ name, value, unit, standardUncertainty }: Evidence): string {
  const isCount = unit === '1' && standardUncertainty === null && Number.isInteger(value)
  if (isCount) return `${name} ${value}`
  return `${name} ${quantityText(value, unit === '1' ? '' : unit, standardUncertainty).text}`
}

/** A number of the proposed plate as plates state it: speeds in rpm. */
export function plateQuantity({ unit, value, standardUncertainty }: PlateNumber): QuantityText {
  const [factor, shown] = unit === 'rad/s' ? [RPM, 'rpm'] : [1, unit]
  const scaled = value === null ? null : factor * value
  return quantityText(scaled, shown, (standardUncertainty ?? 0) * factor)
}
