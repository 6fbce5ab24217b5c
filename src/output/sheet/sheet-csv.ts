import type { SheetFacts } from '../../contract/sheet-facts.ts'
import { PARAMETER_FACTS, PARAMETERS } from '../../records/parameter.ts'
import { csvRow } from '../csv-text.ts'

/** Parameters and what follows from them, a row each, in SI. */
export function sheetCsv(facts: SheetFacts): string {
  const { document: fit } = facts.fit
  const titles = [
    'motor',
    'serial number',
    'lot',
    'quantity',
    'label',
    'unit',
    'status',
    'value',
    'standard uncertainty',
    'lower 95 %',
    'upper 95 %',
    'reference temperature [degC]',
  ]
  const { name, serialNumber, lot } = facts.motor
  const rows = PARAMETERS.map(parameter => {
    const result = fit.parameters[parameter]
    return csvRow([
      name,
      serialNumber,
      lot,
      parameter,
      PARAMETER_FACTS[parameter].label,
      result.unit,
      result.status,
      result.value,
      result.standardUncertainty,
      result.lower95,
      result.upper95,
      fit.referenceTemperatureCelsius,
    ])
  })
  const derived = Object.entries(fit.derived).map(([key, line]) =>
    csvRow([
      name,
      serialNumber,
      lot,
      key,
      line.label,
      line.unit,
      'derived',
      line.value,
      line.standardUncertainty,
      line.lower95,
      line.upper95,
      fit.referenceTemperatureCelsius,
    ]),
  )
  return csvRow(titles) + [...rows, ...derived].join('')
}
