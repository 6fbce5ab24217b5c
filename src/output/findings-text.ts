import { RPM_PER_RAD_PER_SEC } from '../base/units.ts'
import { type QuantityText, quantityText } from '../base/quantity-text.ts'
import type {
  Finding,
  OperatingPoint,
  PointQuantity,
  WithstandDocument,
} from '../contract/withstand-document.ts'
import { textTable } from './text-table.ts'

export const BASIS_WORDS: Readonly<Record<Finding['basis'], string>> = {
  physics: '',
  bound: 'bound',
  'rule-of-thumb': 'rule of thumb',
}

/** Columns of operating points, as a person reads them. */
export const POINT_COLUMNS: readonly {
  readonly of: PointQuantity
  readonly title: string
  readonly unit: string
  readonly factor: number
}[] = [
  { of: 'speed', title: 'speed', unit: 'rpm', factor: RPM_PER_RAD_PER_SEC },
  { of: 'torque', title: 'torque', unit: 'N m', factor: 1 },
  { of: 'current', title: 'current', unit: 'A', factor: 1 },
  { of: 'bridgeVoltage', title: 'bridge', unit: 'V', factor: 1 },
  { of: 'duty', title: 'duty', unit: '%', factor: 100 },
  { of: 'supplyPower', title: 'from supply', unit: 'W', factor: 1 },
]

export function pointQuantity(
  point: OperatingPoint,
  { of, unit, factor }: (typeof POINT_COLUMNS)[number],
): QuantityText {
  const found = point.values?.[of]
  return quantityText(
    found ? factor * found.value : null,
    unit,
    found && factor * found.standardUncertainty,
  )
}

/** What a drive must withstand, for a terminal: numbers first, then how each was found. */
export function findingsText({
  motor,
  drive,
  findings,
  operatingPoints,
}: WithstandDocument): string {
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
    const inputs = f.inputs
      .map(i => `${i.name} ${quantityText(i.value, i.unit, i.standardUncertainty).text}`)
      .join(', ')
    return `${f.label}\n  ${f.formula}\n  with ${inputs || 'the parameters alone'}\n  holds: ${f.validity}`
  })
  const untold = findings
    .filter(f => f.value === null)
    .map(f => `${f.label}: not told, ${f.reason}`)
  const parts = [
    ...(told.length > 0 ? [table.trimEnd()] : []),
    ...pointsText(operatingPoints),
    ...how,
    ...untold,
  ]
  return `${motor} behind ${drive.name}\n\n${parts.join('\n\n')}\n`
}

export const cornerText = ({ supplyVolt, windingCelsius }: OperatingPoint) =>
  `${quantityText(supplyVolt, 'V').text}, winding at ${windingCelsius}\u00a0°C`

function pointsText(points: readonly OperatingPoint[]): string[] {
  const reached = points.filter(point => point.values !== null)
  const table = textTable(
    [
      { title: 'operating point', align: 'left' },
      { title: 'at', align: 'left' },
      ...POINT_COLUMNS.map(({ title }) => ({ title, align: 'right' as const })),
    ],
    reached.map(point => [
      point.label,
      cornerText(point),
      ...POINT_COLUMNS.map(column => pointQuantity(point, column).text),
    ]),
  )
  const ways = new Map(reached.map(point => [point.action, point]))
  const how = [...ways.values()].map(
    ({ label, formula, validity }) =>
      `${label.slice(label.indexOf(', ') + 2)}\n  ${formula}\n  holds: ${validity}`,
  )
  const missed = points
    .filter(point => point.values === null)
    .map(point => `${point.label}, ${cornerText(point)}: not reached, ${point.reason}`)
  return [...(reached.length > 0 ? [table.trimEnd()] : []), ...how, ...missed]
}
