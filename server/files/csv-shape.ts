import {
  type ColumnChoice,
  looksLikeHeader,
  splitHeader,
  unitOfCell,
} from '../../src/contract/csv-columns.ts'

/** How a delimited text file is written, told from its beginning. */
export interface CsvShape {
  readonly delimiter: ',' | ';' | '\t'
  /** Lines before the first row that counts: a preamble, the header and a row of units where there are such. */
  readonly linesBeforeData: number
  readonly header: readonly string[]
}

/** The comma last: it also stands inside numbers. */
const DELIMITERS = [';', '\t', ','] as const
const NUMERIC = /^\s*[+-]?\d[\d.,]*(?:[eE][+-]?\d+)?\s*$/

/**
 * Finds delimiter and header in the first lines of a file; null where no line looks
 * like the header of a recording (or holds the columns chosen by hand).
 */
export function findCsvShape(
  firstLines: readonly string[],
  choices: readonly ColumnChoice[] | null,
): CsvShape | null {
  const isHeader = choices
    ? (cells: readonly string[]) => choices.every(choice => holdsColumn(cells, choice.column))
    : looksLikeHeader
  for (const [index, line] of firstLines.entries()) {
    for (const delimiter of DELIMITERS) {
      const cells = splitCells(line, delimiter)
      if (!isHeader(cells)) continue
      // Columns chosen by number only: a file may start with its first row of numbers.
      const headless = cells.every(cell => NUMERIC.test(cell) || cell.trim() === '')
      const units = headless ? null : rowOfUnits(firstLines, index + 1, delimiter)
      const linesBeforeData = headless ? index : (units?.end ?? index + 1)
      return {
        delimiter,
        linesBeforeData,
        header: headless
          ? cells.map((_, i) => `#${i + 1}`)
          : cells.map((cell, i) => withUnit(cell, units?.units[i] ?? null)),
      }
    }
  }
  return null
}

/** The units of the columns where oscilloscopes put them: in a row of their own below the names. */
function rowOfUnits(
  lines: readonly string[],
  from: number,
  delimiter: string,
): { units: readonly (string | null)[]; end: number } | null {
  const offset = lines.slice(from).findIndex(line => line.trim() !== '')
  if (offset < 0) return null
  const cells = splitCells(lines[from + offset]!, delimiter)
  const units = cells.map(unitOfCell)
  if (cells.some(cell => NUMERIC.test(cell)) || units.every(unit => unit === null)) return null
  return { units, end: from + offset + 1 }
}

const withUnit = (cell: string, unit: string | null): string =>
  unit === null || splitHeader(cell).unit !== null ? cell : `${cell.trim()} [${unit}]`

function holdsColumn(cells: readonly string[], wanted: string): boolean {
  const number = /^#(\d+)$/.exec(wanted)
  if (number) return cells.length >= Number(number[1]) && cells.length > 1
  return cells.some(
    cell => cell.trim() === wanted.trim() || splitHeader(cell).name === wanted.trim(),
  )
}

/** What divides a line of the preamble: not always what divides the rows, and a single column has nothing to divide. */
export const delimiterOf = (line: string, delimiter: string): string =>
  [delimiter, ...DELIMITERS].find(one => line.includes(one)) ?? delimiter

/** Cells of one line; quotes as in RFC 4180, without line breaks inside a cell. */
export function splitCells(line: string, delimiter: string): string[] {
  const cells: string[] = []
  let cell = ''
  let quoted = false
  for (let i = 0; i < line.length; i++) {
    const c = line[i]!
    if (quoted) {
      if (c !== '"') cell += c
      else if (line[i + 1] === '"') cell += line[++i]
      else quoted = false
    } else if (c === '"' && cell.trim() === '') {
      quoted = true
      cell = ''
    } else if (c === delimiter) {
      cells.push(cell)
      cell = ''
    } else cell += c
  }
  cells.push(cell)
  return cells
}
