import { InputFault } from '../../src/base/faults.ts'
import { bridgeCell, numberCell } from '../../src/contract/csv-cells.ts'
import { CLOCK_UNIT, ClockReader } from '../../src/contract/csv-clock.ts'
import type { CsvColumn, CsvLayout, CsvQuantity } from '../../src/contract/csv-columns.ts'
import type { NumberWriting } from '../../src/contract/csv-numbers.ts'

/** Consecutive rows as columns in SI; NaN is a gap. The columns stand in the order of the layout. */
export interface CsvBatch {
  readonly rowCount: number
  readonly columns: readonly Float64Array[]
  /** Share of the file read so far, 0 to 1. */
  readonly fractionRead: number
}

export interface RowsWanted {
  /** Of the file, for messages. */
  readonly name: string
  readonly layout: CsvLayout
  readonly writing: NumberWriting
  readonly invert: ReadonlySet<CsvQuantity>
  readonly batchRows: number
}

/** Gathers rows into column arrays, checking every cell; each fault names the line. */
export class RowCollector {
  total = 0
  readonly #job: RowsWanted
  readonly #signs: readonly number[]
  readonly #timeColumn: number
  readonly #clock = new ClockReader()
  #columns: Float64Array[] = []
  #filled = 0
  #lastTimeSec = Number.NEGATIVE_INFINITY

  constructor(job: RowsWanted) {
    this.#job = job
    this.#signs = job.layout.columns.map(c => (job.invert.has(c.quantity) ? -1 : 1))
    this.#timeColumn = job.layout.columns.findIndex(c => c.quantity === 'time')
  }

  add(cells: readonly string[], line: number): Omit<CsvBatch, 'fractionRead'> | null {
    const { layout, batchRows } = this.#job
    if (cells.length === 1 && cells[0]!.trim() === '') return null
    if (this.#filled === 0) {
      this.#columns = layout.columns.map(() => new Float64Array(batchRows))
    }
    for (const [i, column] of layout.columns.entries()) {
      this.#columns[i]![this.#filled] = this.#cell(cells, column, line) * this.#signs[i]!
    }
    if (this.#timeColumn >= 0)
      this.#checkTime(this.#columns[this.#timeColumn]![this.#filled]!, line)
    this.#filled++
    this.total++
    return this.#filled === batchRows ? this.rest() : null
  }

  rest(): Omit<CsvBatch, 'fractionRead'> | null {
    if (this.#filled === 0) return null
    const rowCount = this.#filled
    this.#filled = 0
    return { rowCount, columns: this.#columns.map(c => c.subarray(0, rowCount)) }
  }

  #cell(cells: readonly string[], column: CsvColumn, line: number): number {
    const cell = cells[column.index]
    if (cell === undefined) {
      throw new InputFault(
        `${this.#job.name}:${line}: ${cells.length} cells, but column '${column.header}' is number ${column.index + 1}`,
      )
    }
    const parsed =
      column.quantity === 'bridge'
        ? bridgeCell(cell)
        : column.unit === CLOCK_UNIT
          ? this.#clock.read(cell)
          : numberCell(cell, this.#job.writing)
    if (!parsed.ok)
      throw new InputFault(`${this.#job.name}:${line}: column '${column.header}': ${parsed.error}`)
    return parsed.value * column.factor + column.offset
  }

  #checkTime(timeSec: number, line: number): void {
    if (Number.isNaN(timeSec)) {
      throw new InputFault(`${this.#job.name}:${line}: the time is missing; every row needs one`)
    }
    if (timeSec < this.#lastTimeSec) {
      throw new InputFault(
        `${this.#job.name}:${line}: time runs backwards (${brief(timeSec)} s after ${brief(this.#lastTimeSec)} s); sort the rows, or import the parts as runs of their own`,
      )
    }
    this.#lastTimeSec = timeSec
  }
}

/** Without what a change of unit leaves in the last digits. */
const brief = (sec: number): number => Number(sec.toPrecision(12))
