import { quantityText } from '../../base/quantity-text.ts'
import type { MotorModel } from '../../contract/motor-model.ts'
import { PARAMETER_FACTS, PARAMETERS, type ParameterName } from '../../records/parameter.ts'

const ACCENTS = /[\u0300-\u036f]/g

/** A name that SPICE and Modelica take, from any name of a motor: `motor_` and its letters and digits. */
export function modelName(motor: string): string {
  const letters = motor
    .normalize('NFKD')
    .replaceAll(ACCENTS, '')
    .replaceAll(/[^A-Za-z0-9]+/g, '_')
    .replaceAll(/^_+|_+$/g, '')
    .toLowerCase()
    .slice(0, 48)
  if (letters === '') return 'motor'
  return letters.startsWith('motor') ? letters : `motor_${letters}`
}

/** What the texts say of a parameter beside its number: unit, uncertainty, and how it came about. */
export function parameterNote(model: MotorModel, name: ParameterName): string {
  const { unit, status, standardUncertainty } = model.parameters[name]
  const spread =
    standardUncertainty === null || standardUncertainty === 0
      ? ''
      : `, standard uncertainty ${Number(standardUncertainty.toPrecision(2))}`
  return ascii(`${unit}, ${PARAMETER_FACTS[name].label.toLowerCase()}, ${status}${spread}`)
}

/** Paragraphs at the head of every exported text: what it is, and where it ceases to be right. */
export function modelNotes(model: MotorModel): string[] {
  const { smoothing } = model
  const absent = PARAMETERS.filter(name => model.parameters[name].status === 'not-in-model')
  const tied = PARAMETERS.filter(name => model.parameters[name].status === 'tied')
  const open = PARAMETERS.filter(name => model.parameters[name].status === 'not-determined')
  const beside = open.filter(name => model.parameters[name].value !== 0)
  const unknown = open.filter(name => model.parameters[name].value === 0)
  const range = model.tested
    .map(({ quantity, unit, lowest, highest }) => {
      const [low, high] = [lowest, highest].map(one => Number(one.toPrecision(3)))
      return `${quantity} ${low} to ${high} ${unit}`
    })
    .join(', ')
  const list = (names: readonly ParameterName[]) =>
    names.map(name => PARAMETER_FACTS[name].label.toLowerCase()).join(', ')
  return [
    `Brushed DC motor '${model.motor}', from identification ${model.fit}. SI units; values at ${model.referenceTemperatureCelsius} degC.`,
    'Positive voltage drives positive current and positive speed; load torque counts against it.',
    ...model.equations,
    range === ''
      ? 'What the runs of the fit measured is no longer in the store.'
      : `Valid where the motor was tested: ${range}. Beyond that it is an extrapolation.`,
    `Steps are rounded off: brush drop within some ${plain(smoothing.brushKneeAmp, 'A')}${model.brushKneeAmp > 0 ? ' (as fitted)' : ''}, friction within some ${plain(smoothing.slowSpeedRadPerSec, 'rad/s')}: a shaft held by friction creeps below that.`,
    'Not in it: saturation, magnets that weaken, commutation ripple, what the bench added to the rotor if the fit says so.',
    ...(tied.length > 0 ? [`Tied to another parameter, not measured: ${list(tied)}.`] : []),
    ...(beside.length > 0
      ? [`Not determined, but the others were found beside these values: ${list(beside)}.`]
      : []),
    ...(unknown.length > 0 ? [`Not determined, left out as 0: ${list(unknown)}.`] : []),
    ...(absent.length > 0 ? [`Not needed to describe the runs, 0 here: ${list(absent)}.`] : []),
    ...warningNotes(model),
    'A model protects nobody: limits of current, speed and temperature are proved on the bench, with its guards in place.',
  ].map(ascii)
}

/** One of each kind: runs of the same test tend to warn of the same thing. */
function warningNotes({ warnings }: MotorModel): string[] {
  const kinds = new Map<string, string[]>()
  for (const { code, text } of warnings) kinds.set(code, [...(kinds.get(code) ?? []), text])
  return [...kinds.values()].map(
    ([first, ...more]) =>
      `Warning of the fit: ${first}${more.length > 0 ? ` (and ${more.length} more of this kind)` : ''}`,
  )
}

const plain = (value: number, unit: string) => quantityText(value, unit).text

const SPELT: Readonly<Record<string, string>> = {
  '\u00a0': ' ',
  '−': '-',
  '–': '-',
  '…': '...',
  '·': ' ',
  '°': 'deg ',
  Ω: 'ohm',
  µ: 'u',
  '²': '^2',
  '±': '+/-',
  '‘': "'",
  '’': "'",
}

/** Simulators read ASCII; what has no spelling becomes a question mark. */
export function ascii(text: string): string {
  return text
    .replaceAll(/[^\x20-\x7e]/gu, letter => SPELT[letter] ?? letter.normalize('NFKD'))
    .replaceAll(ACCENTS, '')
    .replaceAll(/[^\x20-\x7e]/gu, '?')
}

const WIDTH = 96

/** Words in lines of bounded length, each with a lead. */
export function wrapped(text: string, lead: string): string[] {
  const lines: string[] = []
  let line = ''
  for (const word of text.split(' ')) {
    if (line !== '' && lead.length + line.length + 1 + word.length > WIDTH) {
      lines.push(lead + line)
      line = '  '
    }
    line += line.trim() === '' ? word : ` ${word}`
  }
  return [...lines, lead + line]
}
