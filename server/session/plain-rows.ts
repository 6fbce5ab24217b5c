import { failure, type Result, success } from '../../src/base/result.ts'
import { bridgeCell, numberCell } from '../../src/contract/csv-cells.ts'
import { type ColumnChoice, type CsvColumn, layOutColumns } from '../../src/contract/csv-columns.ts'

/** One row that a rig printed, in SI. NaN is a gap. */
export interface PlainRow {
  /** Seconds from the first row; null where the rig prints no time. */
  readonly timeSec: number | null
  /** In the order of `PlainRows.columns`, time left out. */
  readonly values: readonly number[]
  /** Rows that the time since the last one has no room for, by the rig's own rhythm. */
  readonly missing: number
}

/** Rows from which the rig's rhythm is learned, and by how much one may be late without being a gap. */
const RHYTHM_ROWS = 20
const LATE_FACTOR = 1.75

/**
 * Reads lines as `0.0150,11.98,1.234` (firmware-protocol.md, section 14): comma, semicolon, tab or
 * spaces between the numbers, always as many as in the first row. Without a checksum a damaged digit
 * cannot be seen; a damaged row can, and is rejected with its reason.
 */
export class PlainRows {
  /** Everything but the time. */
  readonly columns: readonly CsvColumn[]
  readonly #time: CsvColumn | null
  readonly #fewest: number
  #fields: number | null = null
  #firstSec: number | null = null
  #lastSec = Number.NaN
  #rhythmSec: number | null = null
  #steps: number[] = []

  private constructor(columns: readonly CsvColumn[]) {
    this.columns = columns.filter(column => column.quantity !== 'time')
    this.#time = columns.find(column => column.quantity === 'time') ?? null
    this.#fewest = Math.max(...columns.map(column => column.index)) + 1
  }

  /** Columns are named by their number: `time=#1:s,current=#3:mV/50`. */
  static of(choices: readonly ColumnChoice[]): Result<PlainRows, string> {
    const named = choices.map(choice => /^#(\d+)$/.exec(choice.column)?.[1])
    const strange = choices.find((_, at) => !Number(named[at]))
    if (strange) {
      return failure(
        `column '${strange.column}': a rig that prints rows has no names; write #1, #2, …`,
      )
    }
    const count = Math.max(...named.map(Number))
    const header = Array.from({ length: count }, (_, at) => `#${at + 1}`)
    const layout = layOutColumns(header, choices)
    return layout.ok ? success(new PlainRows(layout.value.columns)) : layout
  }

  get hasTime(): boolean {
    return this.#time !== null
  }

  read(line: string): Result<PlainRow, string> {
    const cells = split(line)
    const expected = this.#fields ?? Math.max(this.#fewest, cells.length)
    if (cells.length !== expected) {
      return failure(`${cells.length} numbers in the row; must be ${expected}`)
    }
    const values: number[] = []
    for (const column of this.columns) {
      const value = cellValue(cells, column)
      if (!value.ok) return value
      values.push(value.value)
    }
    const time = this.#time && cellValue(cells, this.#time)
    if (time && !time.ok) return time
    if (time && Number.isNaN(time.value)) return failure('the row has no time')
    if (time && time.value < this.#lastSec) {
      return failure(`time ${time.value} s does not follow ${this.#lastSec} s; it must not fall`)
    }
    this.#fields = expected
    if (!time) return success({ timeSec: null, values, missing: 0 })
    this.#firstSec ??= time.value
    const missing = this.#missingBefore(time.value)
    return success({ timeSec: time.value - this.#firstSec, values, missing })
  }

  #missingBefore(sec: number): number {
    const step = sec - this.#lastSec
    this.#lastSec = sec
    if (Number.isNaN(step)) return 0
    if (this.#rhythmSec === null) {
      this.#steps.push(step)
      if (this.#steps.length === RHYTHM_ROWS) {
        this.#rhythmSec = this.#steps.sort((a, b) => a - b)[RHYTHM_ROWS >> 1]!
        this.#steps = []
      }
      return 0
    }
    return this.#rhythmSec > 0 && step > LATE_FACTOR * this.#rhythmSec
      ? Math.round(step / this.#rhythmSec) - 1
      : 0
  }
}

function split(line: string): string[] {
  const text = line.trim()
  if (text.includes(';')) return text.split(';')
  return text.includes(',') ? text.split(',') : text.split(/\s+/)
}

function cellValue(cells: readonly string[], column: CsvColumn): Result<number, string> {
  const cell = cells[column.index]!
  if (column.quantity === 'bridge') return bridgeCell(cell)
  const number = numberCell(cell, 'plain')
  return number.ok
    ? success(number.value * column.factor + column.offset)
    : failure(`column ${column.index + 1}: ${number.error}`)
}
