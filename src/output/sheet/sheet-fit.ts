import { intervalText, quantityText, readingText, shareText } from '../../base/quantity-text.ts'
import type { FitDocument, FitWarning, ParameterResult } from '../../contract/fit-document.ts'
import type { SheetFacts } from '../../contract/sheet-facts.ts'
import { PARAMETER_FACTS, PARAMETERS, type ParameterName } from '../../records/parameter.ts'
import { type Column, heading, paragraph, table } from './blocks.ts'
import { type Block, gap } from './flow.ts'
import { derivedLabel, derivedText } from '../derived-text.ts'
import { celsius } from './sheet-words.ts'

export function parameters(
  { fit: { document: fit }, outdated }: SheetFacts,
  width: number,
): Block[] {
  const columns: Column[] = [
    { title: '', width: 50, align: 'start' },
    {
      title: `Parameter at ${celsius(fit.referenceTemperatureCelsius)}`,
      width: 132,
      align: 'start',
    },
    { title: 'Value (standard uncertainty)', width: 122, align: 'end' },
    { title: '95 % interval', width: 132, align: 'end' },
    { title: '', width: width - 436, align: 'start' },
  ]
  const stated = PARAMETERS.filter(name => fit.parameters[name].value !== null)
  const rows = stated.map(name => parameterRow(name, fit.parameters[name]))
  return [
    heading('Parameters', width),
    ...table(columns, rows),
    gap(4),
    ...withoutValue(fit, width),
    ...(outdated
      ? [
          paragraph('The runs have changed since this fit was made; identify again.', width, {
            ink: 'warn',
            bold: true,
          }),
        ]
      : []),
    gap(8),
  ]
}

/** Parameters that have no value, and what would give them one. */
function withoutValue(fit: FitDocument, width: number): Block[] {
  const named = (status: ParameterResult['status']) =>
    PARAMETERS.filter(name => fit.parameters[name].status === status)
  const labels = (names: readonly ParameterName[]) =>
    names.map(name => PARAMETER_FACTS[name].label.toLowerCase()).join(', ')
  const left = named('not-in-model')
  return [
    ...named('not-determined').map(name =>
      paragraph(
        `Not determined: ${PARAMETER_FACTS[name].label.toLowerCase()}${fit.parameters[name].reason ? `; ${fit.parameters[name].reason}` : ''}.`,
        width,
        { size: 7.8 },
      ),
    ),
    ...(left.length > 0
      ? [
          paragraph(
            `Not in the model, as the runs are explained without: ${labels(left)}.`,
            width,
            {
              ink: 'quiet',
              size: 7.8,
            },
          ),
        ]
      : []),
  ]
}

const STATUS_WORDS = {
  determined: '',
  tied: 'follows from another',
  fixed: 'held fixed',
  'not-determined': 'not determined',
  'not-in-model': 'not in the model',
} as const

function parameterRow(name: ParameterName, result: ParameterResult): string[] {
  const { label, symbol, unit } = PARAMETER_FACTS[name]
  return [
    symbol,
    label,
    quantityText(result.value, unit, result.standardUncertainty).text,
    interval(result, unit),
    STATUS_WORDS[result.status],
  ]
}

function interval(result: ParameterResult, unit: string): string {
  const { lower95, upper95, status } = result
  if (lower95 === null || upper95 === null || status === 'fixed') return ''
  return intervalText(lower95, upper95, unit).text
}

export function derived({ fit: { document: fit } }: SheetFacts, width: number): Block[] {
  const lines = Object.values(fit.derived)
    .filter(line => line.value !== null)
    .map(line => [derivedLabel(line), derivedText(line)])
  if (lines.length === 0) return []
  const half = Math.ceil(lines.length / 2)
  const column = width / 2
  const columns: Column[] = [
    { title: '', width: column * 0.52, align: 'start' },
    { title: '', width: column * 0.48 - 10, align: 'end' },
    { title: '', width: 20, align: 'start' },
    { title: '', width: column * 0.52 - 10, align: 'start' },
    { title: '', width: column * 0.48, align: 'end' },
  ]
  const rows = lines
    .slice(0, half)
    .map((line, index) => [...line, '', ...(lines[half + index] ?? ['', ''])])
  return [heading('What follows', width), ...table(columns, rows).slice(1), gap(8)]
}

export function warnings({ fit: { document: fit } }: SheetFacts, width: number): Block[] {
  const { lackOfFit, reducedChiSquare, degreesOfFreedom } = fit.goodness
  const spread = `Reduced χ² ${readingText(reducedChiSquare, '', 3).text} with ${Math.round(degreesOfFreedom)} degrees of freedom (1 where nothing but the sensors’ noise is left over). Lack of fit: ${lackOfFit}. Ended: ${fit.termination}.`
  return [
    heading('How far to trust it', width),
    paragraph(spread, width),
    ...grouped(fit.warnings).map(text => paragraph(`• ${text}`, width, { ink: 'warn' })),
    ...dominant(fit.budget, width),
    gap(8),
  ]
}

const sentences = (lines: readonly string[]): string =>
  lines.map(line => `${line.charAt(0).toUpperCase()}${line.slice(1)}.`).join(' ')

/** Warnings of one kind stand together: the first in full, the runs of the others behind it. */
function grouped(warnings: readonly FitWarning[]): string[] {
  const kinds = new Map<string, FitWarning[]>()
  for (const warning of warnings) {
    kinds.set(warning.code, [...(kinds.get(warning.code) ?? []), warning])
  }
  return [...kinds.values()].map(([first, ...others]) => {
    const place = first!.run === undefined ? '' : `Run ${first!.run}: `
    const runs = others.flatMap(other => (other.run === undefined ? [] : [other.run]))
    const also = runs.length > 0 ? ` (alike: runs ${runs.join(', ')})` : ''
    return `${place}${first!.text}${also}`
  })
}

function dominant(budget: SheetFacts['fit']['document']['budget'], width: number): Block[] {
  const bySource = new Map<string, string[]>()
  for (const name of PARAMETERS) {
    const largest = [...(budget[name] ?? [])].sort((a, b) => b.share - a.share)[0]
    if (!largest) continue
    const words = `${PARAMETER_FACTS[name].label.toLowerCase()} (${shareText(largest.share)})`
    bySource.set(largest.source, [...(bySource.get(largest.source) ?? []), words])
  }
  const lines = [...bySource].map(([source, names]) => `${source}: ${names.join(', ')}`)
  return lines.length === 0
    ? []
    : [
        paragraph(`What dominates the uncertainties. ${sentences(lines)}`, width, {
          ink: 'quiet',
          size: 7.8,
        }),
      ]
}
