import { intervalText, type QuantityText, quantityText } from '../base/quantity-text.ts'
import type { HeatDocument, HeatNumber } from '../contract/heat-document.ts'
import { textTable } from './text-table.ts'

/** Times from here on are told in minutes. */
const LONG_SEC = 1000

/** What a heating run tells, for a terminal. */
export function heatText(document: HeatDocument): string {
  const { limitsFor: basis, goodness, magnets } = document
  const numbers = Object.values(document.numbers)
  const limits = Object.values(document.limits)
  const untold = [...numbers, ...limits]
    .filter(each => each.status === 'not-determined')
    .map(each => `${each.label}: not determined, ${each.reason}`)
  const parts = [
    `${document.motor}, run ${document.run}: from ${document.startCelsius.toFixed(1)} °C to ${document.highestWindingCelsius.toFixed(1)} °C (winding) and ${document.highestHousingCelsius.toFixed(1)} °C (housing)`,
    tableOf(numbers),
    `Magnets: ${magnetsText(magnets)}`,
    `Limits for class ${basis.insulationClass} (${basis.hottestCelsius} °C at the hottest place, ${basis.meanLimitCelsius} °C in the mean) in air of ${basis.ambientCelsius} °C${basis.stall ? `; a stall is ${basis.stall}` : ''}`,
    tableOf(limits),
    ...(untold.length > 0 ? [untold.join('\n')] : []),
    `${goodness.readings} readings of the resistance, the model within ${goodness.largestResidualKelvin.toFixed(2)} K of each, reduced chi-square ${goodness.reducedChiSquare.toPrecision(2)}`,
    `Assumed:\n${document.assumptions.map(text => `  ${text}`).join('\n')}`,
    `Caution:\n${document.cautions.map(text => `  ${text}`).join('\n')}`,
    ...document.warnings.map(({ text }) => `warning: ${text}`),
  ]
  return `${parts.filter(part => part !== '').join('\n\n')}\n`
}

function tableOf(numbers: readonly HeatNumber[]): string {
  const told = numbers.filter(each => each.status === 'determined')
  if (told.length === 0) return ''
  return textTable(
    [
      { title: 'what', align: 'left' },
      { title: 'value(u)', align: 'right' },
      { title: '95 % interval', align: 'right' },
      { title: 'how', align: 'left' },
    ],
    told.map(number => [
      number.label,
      heatQuantity(number).text,
      heatInterval(number),
      number.formula,
    ]),
  ).trimEnd()
}

/** A number of the heat with its uncertainty; long times in minutes. */
export function heatQuantity(number: HeatNumber): QuantityText {
  const { per, unit } = scaleOf(number)
  const { value, standardUncertainty } = number
  return quantityText(
    value === null ? null : value / per,
    unit,
    standardUncertainty === null ? null : standardUncertainty / per,
  )
}

/** Its 95 % interval; empty where there is none. */
export function heatInterval(number: HeatNumber): string {
  const { lower95, upper95 } = number
  if (lower95 === null || upper95 === null) return ''
  const { per, unit } = scaleOf(number)
  return intervalText(lower95 / per, upper95 / per, unit).text
}

const scaleOf = ({ unit, value }: HeatNumber) =>
  unit === 's' && value !== null && value >= LONG_SEC ? { per: 60, unit: 'min' } : { per: 1, unit }

export function magnetsText({
  basis,
  perKelvin,
  standardUncertainty,
  fluxRatioAtLimit,
  reason,
}: HeatDocument['magnets']): string {
  if (perKelvin === null) return `drop of k with temperature not determined, ${reason}`
  const drop = quantityText(100 * perKelvin, '%', 100 * (standardUncertainty ?? 0)).text
  const at =
    fluxRatioAtLimit === null
      ? ''
      : `; in continuous duty k is ${(100 * fluxRatioAtLimit).toFixed(1)} % of that at 20 °C`
  return `k changes by ${drop} a kelvin, ${basis === 'measured' ? 'measured' : 'as declared'}${at}`
}
