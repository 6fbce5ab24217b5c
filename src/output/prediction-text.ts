import { RPM_PER_RAD_PER_SEC } from '../base/units.ts'
import { quantityText } from '../base/quantity-text.ts'
import type { CurvePoint, Uncertain } from './motor-curves.ts'
import type { Prediction } from './prediction.ts'
import { textTable } from './text-table.ts'

/** A prediction for a terminal: the points that matter, then the curve in ten steps. */
export function predictionText(prediction: Prediction): string {
  const {
    motor,
    voltageVolt,
    windingCelsius,
    noLoad,
    stall,
    operatingPoint,
    motoring,
    assumptions,
  } = prediction
  const named = [
    row('no load', noLoad),
    ...(operatingPoint ? [row('at the load', operatingPoint)] : []),
    [
      'stall',
      quantityText(stall.torque.value, 'N m', stall.torque.standardUncertainty).text,
      '0 rad/s',
      '0 rpm',
      quantityText(stall.current.value, 'A', stall.current.standardUncertainty).text,
      '0 W',
      '0 %',
    ],
  ]
  const curve = motoring
    .filter((_, i) => i % 4 === 0 && i < motoring.length - 1)
    .map(point => row('', point))
  const head = `${motor} at ${quantityText(voltageVolt, 'V').text}, winding ${quantityText(windingCelsius, 'degC').text}`
  const columns = [
    { title: '', align: 'left' },
    { title: 'torque', align: 'right' },
    { title: 'speed', align: 'right' },
    { title: '', align: 'right' },
    { title: 'current', align: 'right' },
    { title: 'power', align: 'right' },
    { title: 'efficiency', align: 'right' },
  ] as const
  const notes = assumptions.map(line => `note: ${line}\n`).join('')
  return `${head}\n\n${textTable(columns, named)}\n${textTable(columns, curve)}${notes === '' ? '' : `\n${notes}`}`
}

function row(name: string, point: CurvePoint): string[] {
  const text = (value: Uncertain | null, unit: string, factor = 1) =>
    value === null
      ? ''
      : quantityText(factor * value.value, unit, factor * value.standardUncertainty).text
  return [
    name,
    quantityText(point.torqueNm, 'N m').text,
    text(point.speed, 'rad/s'),
    text(point.speed, 'rpm', RPM_PER_RAD_PER_SEC),
    text(point.current, 'A'),
    text(point.mechanicalPower, 'W'),
    text(point.efficiency, '%', 100),
  ]
}
