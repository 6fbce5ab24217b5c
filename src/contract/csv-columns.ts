import { failure, type Result, success } from '../base/result.ts'
import { type Dimension, parseUnit, type Unit, unitsOf } from '../base/units.ts'
import { CLOCK_UNIT } from './csv-clock.ts'
import { QUANTITIES, type Quantity } from '../records/quantity.ts'

/**
 * The header of a recording as CSV: a cell `quantity [unit]` a column, in any order. Columns of other
 * names are ignored and said. A map given by hand (`--columns`) names the columns of a foreign file.
 */
export type CsvQuantity = 'time' | Quantity | 'bridge'

export const CSV_QUANTITIES: readonly CsvQuantity[] = ['time', ...QUANTITIES, 'bridge']

const DIMENSION: Readonly<Record<Exclude<CsvQuantity, 'bridge'>, Dimension>> = {
  time: 'time',
  voltage: 'voltage',
  current: 'current',
  speed: 'speed',
  position: 'angle',
  temperature: 'temperature',
  ambient: 'temperature',
  torque: 'torque',
}

/** What to do with one column: value in SI = cell × factor + offset. `bridge` cells are words. */
export interface CsvColumn {
  readonly quantity: CsvQuantity
  /** Position in the row, from 0. */
  readonly index: number
  readonly header: string
  readonly unit: string
  readonly factor: number
  readonly offset: number
}

export interface CsvLayout {
  readonly columns: readonly CsvColumn[]
  /** Headers of the columns that are left out. */
  readonly ignored: readonly string[]
}

/** One entry of a hand-given map: this quantity stands in that column, in that unit, through that probe. */
export interface ColumnChoice {
  readonly quantity: CsvQuantity
  /** Header text, or `#n` for the n-th column, counted from 1. */
  readonly column: string
  readonly unit: string | null
  /** So many of `unit` to one SI unit of the quantity: `mV/50` reads a probe of 50 mV/A. */
  readonly perSiUnit: number | null
}

const HEADER_CELL = /^\s*(.*?)\s*(?:\[([^\]]*)\])?\s*$/su
const IN_PARENTHESES = /^\s*(.*?)\s*\(([^()]*)\)\s*$/su

/** Name and unit of a header cell: `name [unit]`, or `name (unit)` where that is a unit. */
export function splitHeader(cell: string): { name: string; unit: string | null } {
  const round = IN_PARENTHESES.exec(cell)
  if (round && parseUnit(round[2]!).ok) return { name: round[1]!, unit: round[2]!.trim() }
  const match = HEADER_CELL.exec(cell)
  return { name: match?.[1] ?? cell.trim(), unit: match?.[2]?.trim() ?? null }
}

/**
 * Unit in a cell of a row of units below the header, bare or in brackets of either kind; null where the cell holds
 * no unit that is known.
 */
export function unitOfCell(cell: string): string | null {
  const text = cell.trim().replace(/^\[(.*)\]$|^\((.*)\)$/su, '$1$2')
  return parseUnit(text).ok ? text.trim() : null
}

function isCsvQuantity(text: string): text is CsvQuantity {
  return (CSV_QUANTITIES as readonly string[]).includes(text)
}

/** True where a row of cells looks like the header of a recording: at least one known quantity in it. */
export function looksLikeHeader(cells: readonly string[]): boolean {
  return cells.some(cell => isCsvQuantity(splitHeader(cell).name.toLowerCase()))
}

/**
 * Reads `time=t:ms,current=ch2:mV/50`. A column name that holds a comma, colon or equals sign is put
 * in double quotes. The unit may be left out where the column's own header carries it.
 */
export function parseColumnMap(text: string): Result<ColumnChoice[], string> {
  const choices: ColumnChoice[] = []
  const entry =
    /\s*([^=,"]+?)\s*=\s*(?:"([^"]*)"|([^,:"]+?))\s*(?::\s*([^,/]+?(?:\/[a-z]+)??)\s*(?:\/\s*([^,]+?))?)?\s*(?:,|$)/iuy
  entry.lastIndex = 0
  while (entry.lastIndex < text.length) {
    const start = entry.lastIndex
    const match = entry.exec(text)
    if (!match) {
      return failure(
        `cannot read '${text.slice(start)}'; write quantity=column:unit, e.g. current=ch2:mV/50`,
      )
    }
    const quantity = match[1]!.toLowerCase()
    if (!isCsvQuantity(quantity)) {
      return failure(`'${match[1]}' is no quantity; known: ${CSV_QUANTITIES.join(', ')}`)
    }
    const divided = splitDivisor(match[4] ?? null, match[5] ?? null)
    if (!divided.ok) return failure(`${quantity}: ${divided.error}`)
    choices.push({ quantity, column: match[2] ?? match[3]!, ...divided.value })
  }
  const repeated = choices.find((c, i) => choices.findIndex(d => d.quantity === c.quantity) < i)
  if (repeated) return failure(`${repeated.quantity} is mapped twice`)
  return choices.length > 0 ? success(choices) : failure('the map is empty')
}

/** Units hold slashes too (`rad/s`, `1/min`): what follows the last one is a probe scale only if it is a number. */
function splitDivisor(
  unit: string | null,
  divisor: string | null,
): Result<{ unit: string | null; perSiUnit: number | null }, string> {
  const whole = divisor === null ? unit : `${unit}/${divisor}`
  if (whole === null || whole === CLOCK_UNIT || parseUnit(whole).ok)
    return success({ unit: whole, perSiUnit: null })
  const slash = whole.lastIndexOf('/')
  if (slash < 0) return failure(`unknown unit '${whole}'`)
  const perSiUnit = Number(whole.slice(slash + 1))
  if (!Number.isFinite(perSiUnit) || perSiUnit === 0) {
    return failure(`probe scale '${whole.slice(slash + 1)}' is not a number other than 0`)
  }
  return success({ unit: whole.slice(0, slash).trim(), perSiUnit })
}

/**
 * Decides what each column of a file is. With `choices`, only those columns are taken; without, the
 * header's own words count. Failure says which column and what would be right.
 */
export function layOutColumns(
  header: readonly string[],
  choices: readonly ColumnChoice[] | null,
): Result<CsvLayout, string> {
  const columns: CsvColumn[] = []
  if (choices) {
    for (const choice of choices) {
      const index = findColumn(header, choice.column)
      if (index < 0) {
        return failure(`no column '${choice.column}'; the file has ${quoteList(header)}`)
      }
      const column = makeColumn(
        choice.quantity,
        index,
        header[index]!,
        choice.unit,
        choice.perSiUnit,
      )
      if (!column.ok) return column
      columns.push(column.value)
    }
  } else {
    for (const [index, cell] of header.entries()) {
      const name = splitHeader(cell).name.toLowerCase()
      if (!isCsvQuantity(name)) continue
      const before = columns.find(c => c.quantity === name)
      if (before)
        return failure(
          `column ${index + 1} is '${name}' again, as column ${before.index + 1} already is`,
        )
      const column = makeColumn(name, index, cell, null, null)
      if (!column.ok) return column
      columns.push(column.value)
    }
  }
  if (!columns.some(c => c.quantity !== 'time' && c.quantity !== 'bridge')) {
    return failure(
      `no column to import in ${quoteList(header)}; a header cell reads e.g. 'current [A]', or name the columns with --columns`,
    )
  }
  const taken = new Set(columns.map(c => c.index))
  const ignored = header.filter((cell, index) => !taken.has(index) && cell.trim() !== '')
  return success({ columns, ignored })
}

/** Place of a column chosen by its header or as `#n`; below 0 where there is none. */
export function findColumn(header: readonly string[], wanted: string): number {
  const number = /^#(\d+)$/.exec(wanted)
  if (number) return Number(number[1]) <= header.length ? Number(number[1]) - 1 : -1
  const whole = header.findIndex(cell => cell.trim() === wanted.trim())
  return whole >= 0 ? whole : header.findIndex(cell => splitHeader(cell).name === wanted.trim())
}

function makeColumn(
  quantity: CsvQuantity,
  index: number,
  header: string,
  unitGiven: string | null,
  perSiUnit: number | null,
): Result<CsvColumn, string> {
  const base = { quantity, index, header: header.trim() }
  if (quantity === 'bridge') return success({ ...base, unit: '', factor: 1, offset: 0 })
  const dimension = DIMENSION[quantity]
  const spelling = unitGiven ?? splitHeader(header).unit
  const example = `'${quantity} [${unitsOf(dimension)[0]}]'`
  if (spelling === null || spelling === '') {
    return failure(`column '${header.trim()}' has no unit; write e.g. ${example}`)
  }
  if (quantity === 'time' && spelling.trim() === CLOCK_UNIT)
    return success(clockColumn(index, header))
  const unit = parseUnit(spelling)
  if (!unit.ok && quantity === 'voltage' && spelling.trim() === '%') {
    return failure(
      `column '${header.trim()}': a duty is a share of the supply; of 48 V, 100 % are read by --columns 'voltage=…:V/2.0833' (100 over the volts)`,
    )
  }
  if (!unit.ok) {
    return failure(
      `column '${header.trim()}': ${unit.error}; for ${quantity} write one of ${unitsOf(dimension).join(', ')}`,
    )
  }
  return scaleColumn(base, dimension, spelling, unit.value, perSiUnit)
}

/** A column of clock times as the time. */
export const clockColumn = (index: number, header: string): CsvColumn => ({
  quantity: 'time',
  index,
  header: header.trim(),
  unit: CLOCK_UNIT,
  factor: 1,
  offset: 0,
})

function scaleColumn(
  base: { quantity: CsvQuantity; index: number; header: string },
  dimension: Dimension,
  spelling: string,
  unit: Unit,
  perSiUnit: number | null,
): Result<CsvColumn, string> {
  if (unit.dimension === dimension) {
    const scale = perSiUnit ?? 1
    return success({
      ...base,
      unit: spelling,
      factor: unit.factor / scale,
      offset: unit.offset / scale,
    })
  }
  if (perSiUnit === null) {
    return failure(
      `column '${base.header}': ${base.quantity} cannot be in ${spelling}; write one of ${unitsOf(dimension).join(', ')}, or a probe scale such as ${spelling}/50`,
    )
  }
  // Through a probe the reading is only proportional: 50 mV stand for 1 A, so the prefix of the unit counts no more.
  return success({ ...base, unit: `${spelling}/${perSiUnit}`, factor: 1 / perSiUnit, offset: 0 })
}

const quoteList = (cells: readonly string[]): string =>
  cells.map(cell => `'${cell.trim()}'`).join(', ')
