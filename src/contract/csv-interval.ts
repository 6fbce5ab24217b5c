import { parseUnit } from '../base/units.ts'
import { numberCell } from './csv-cells.ts'
import { type NumberWriting, plainNumber } from './csv-numbers.ts'

/** Time from row to row as the lines above a header state it. */
export interface StatedInterval {
  readonly sec: number
  /** Line of the file, counted from 1. */
  readonly line: number
  readonly text: string
}

const INTERVAL =
  /^(?:(?:sampl(?:e|ing)|horizontal|time|x) ?)?(?:interval|increment)$|^sampl(?:e|ing) ?period$/
const RATE = /^sampl(?:e|ing) ?(?:rate|frequency)$/
const RATE_UNIT = /^([kmg]?)(?:hz|s\/s|sa\/s|sps|samples\/s)$/
const FACTOR: Readonly<Record<string, number>> = { '': 1, k: 1e3, m: 1e6, g: 1e9 }
const COMMENT_MARK = /^[\s#%/"]+/
const SHORTEST_SEC = 1e-9
const LONGEST_SEC = 3600
/** Rounding of a rate and an interval that are stated both. */
const SLACK = 1e-3

/**
 * Interval or rate of sampling in a preamble, as oscilloscopes and recorders write it: a line
 * `Sample Interval,1.0E-03,s`, `Sampling period [ms];2`, `# sample rate = 1000 Hz`. Without a unit
 * seconds and hertz are meant. Null where there is none, or where two lines disagree.
 */
export function statedInterval(
  preamble: readonly (readonly string[])[],
  writing: NumberWriting,
): StatedInterval | null {
  const stated = preamble.flatMap((cells, index) => {
    const sec = intervalOfLine(cells, writing)
    const text = cells.filter(cell => cell.trim() !== '').join(' ')
    return sec === null ? [] : [{ sec, line: index + 1, text }]
  })
  const first = stated[0]
  if (!first) return null
  return stated.every(({ sec }) => Math.abs(sec / first.sec - 1) <= SLACK) ? first : null
}

function intervalOfLine(line: readonly string[], writing: NumberWriting): number | null {
  const cells = line.map(cell => cell.trim())
  while (cells.at(-1) === '') cells.pop()
  const [label = '', inSameCell = ''] = cells.shift()?.replace(COMMENT_MARK, '').split(/[:=]/) ?? []
  if (inSameCell.trim() !== '') cells.unshift(inSameCell.trim())
  const [, name = '', unitOfLabel] = /^(.*?)\s*(?:[[(]([^\])]*)[\])])?\s*$/s.exec(label) ?? []
  const plainName = name.toLowerCase().replaceAll(/[\s_-]+/g, ' ')
  const isRate = RATE.test(plainName)
  if (!isRate && !INTERVAL.test(plainName)) return null
  const [, digits = '', unitBehind] =
    /^([+-]?[\d.,]+(?:[eE][+-]?\d+)?)\s*(\S*)$/.exec(cells.shift() ?? '') ?? []
  const value = statedNumber(digits, writing)
  // What follows is the unit, or the same value for the other channels.
  const rest = cells.filter(cell => statedNumber(cell, writing) !== value)
  if (rest.length > 1) return null
  const unit = unitOfLabel || unitBehind || (rest[0] ?? '')
  const factor = isRate ? rateFactor(unit) : timeFactor(unit)
  if (factor === null) return null
  const sec = isRate ? 1 / (value * factor) : value * factor
  return sec >= SHORTEST_SEC && sec <= LONGEST_SEC ? sec : null
}

/** A preamble often keeps the decimal point where the rows have commas. */
function statedNumber(text: string, writing: NumberWriting): number {
  const own = numberCell(text, writing)
  if (own.ok) return own.value
  const other = writing === 'comma' ? 'point' : 'comma'
  return /^\d+[.,]\d{3}$/.test(text) ? Number.NaN : plainNumber(text, other)
}

function timeFactor(unit: string): number | null {
  if (unit === '' || /^seconds?$/i.test(unit)) return 1
  if (unit === 'ns') return 1e-9
  const known = parseUnit(unit)
  return known.ok && known.value.dimension === 'time' ? known.value.factor : null
}

function rateFactor(unit: string): number | null {
  const plain = unit.toLowerCase()
  if (plain === '' || plain === '1/s') return 1
  const prefix = RATE_UNIT.exec(plain)?.[1]
  return prefix === undefined ? null : FACTOR[prefix]!
}
