import { intervalText, quantityText, shareText } from '../base/quantity-text.ts'
import type { FitDocument, ParameterResult } from '../contract/fit-document.ts'
import { PARAMETER_FACTS, PARAMETERS, type ParameterName } from '../records/parameter.ts'
import { textTable } from './text-table.ts'

/**
 * An identification as text for a terminal: parameters with standard uncertainty and 95 % interval, what
 * dominates, derived quantities, warnings. With `truth` (a simulated motor) a column of true values.
 */
export function fitText(
  fit: FitDocument,
  truth: Partial<Record<ParameterName, number>> | null = null,
): string {
  const parts = [
    heading(fit),
    parameterTable(fit, truth),
    reasons(fit),
    derivedTable(fit),
    goodness(fit),
    warnings(fit),
  ]
  return `${parts.filter(part => part !== '').join('\n\n')}\n`
}

function heading(fit: FitDocument): string {
  const tested =
    fit.testTemperatureCelsius === null
      ? ''
      : `; winding ${quantityText(fit.testTemperatureCelsius, 'degC').text} during the tests`
  const runs = fit.runs.length === 1 ? `run ${fit.runs[0]}` : `runs ${fit.runs.join(', ')}`
  return `${fit.motor}, from ${runs}\nat ${fit.referenceTemperatureCelsius} °C${tested}`
}

function parameterTable(
  fit: FitDocument,
  truth: Partial<Record<ParameterName, number>> | null,
): string {
  const rows = PARAMETERS.flatMap(name => {
    const result = fit.parameters[name]
    if (!result || result.status === 'not-in-model') return []
    const facts = PARAMETER_FACTS[name]
    const row = [
      facts.label,
      facts.symbol,
      result.status,
      quantityText(result.value, facts.unit, result.standardUncertainty).text,
      interval(result, facts.unit),
    ]
    return [truth ? [...row, ...truthCells(result, truth[name], facts.unit)] : row]
  })
  const columns = [
    { title: 'parameter', align: 'left' },
    { title: '', align: 'left' },
    { title: 'status', align: 'left' },
    { title: 'value(u)', align: 'right' },
    { title: '95 % interval', align: 'right' },
  ] as const
  const truthColumns = [
    { title: 'true value', align: 'right' },
    { title: 'error', align: 'right' },
    { title: 'error/u', align: 'right' },
  ] as const
  return textTable(truth ? [...columns, ...truthColumns] : columns, rows).trimEnd()
}

function interval(result: ParameterResult, unit: string): string {
  if (result.lower95 === null || result.upper95 === null) return ''
  return intervalText(result.lower95, result.upper95, unit).text
}

function truthCells(result: ParameterResult, truth: number | undefined, unit: string): string[] {
  if (truth === undefined) return ['', '', '']
  const shown = quantityText(truth, unit).text
  if (result.value === null || result.status === 'fixed') return [shown, '', '']
  const error = result.value - truth
  const inUncertainties =
    result.standardUncertainty !== null && result.standardUncertainty > 0
      ? (error / result.standardUncertainty).toFixed(1).replace('-', '−')
      : ''
  return [shown, truth === 0 ? '' : percent(error / truth), inUncertainties]
}

function percent(ratio: number): string {
  const digits = Math.abs(ratio) < 0.01 ? 2 : 1
  const text = (100 * ratio).toFixed(digits)
  return `${ratio >= 0 ? '+' : ''}${text.replace('-', '−')} %`
}

function reasons(fit: FitDocument): string {
  return PARAMETERS.flatMap(name => {
    const result = fit.parameters[name]
    return result?.reason
      ? [`${PARAMETER_FACTS[name].label} ${result.status}: ${result.reason}`]
      : []
  }).join('\n')
}

function derivedTable(fit: FitDocument): string {
  const rows = Object.values(fit.derived).map(({ label, value, unit, standardUncertainty }) => [
    label,
    value === null ? 'not determined' : quantityText(value, unit, standardUncertainty).text,
  ])
  if (rows.length === 0) return ''
  return textTable(
    [
      { title: 'derived', align: 'left' },
      { title: 'value(u)', align: 'right' },
    ],
    rows,
  ).trimEnd()
}

function goodness(fit: FitDocument): string {
  const budget = PARAMETERS.flatMap(name => {
    const largest = [...(fit.budget[name] ?? [])].sort((a, b) => b.share - a.share)[0]
    return largest
      ? [`${PARAMETER_FACTS[name].symbol}: ${largest.source} (${shareText(largest.share)})`]
      : []
  })
  const dominated =
    budget.length > 0 ? `what dominates each uncertainty: ${budget.join('; ')}\n` : ''
  return `${dominated}lack of fit: ${fit.goodness.lackOfFit}\nended: ${fit.termination}`
}

function warnings(fit: FitDocument): string {
  return fit.warnings
    .map(w => `warning${w.run === undefined ? '' : ` (run ${w.run})`}: ${w.text}`)
    .join('\n')
}
