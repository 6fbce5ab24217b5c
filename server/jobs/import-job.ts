import { InputFault } from '../../src/base/faults.ts'
import type { ColumnChoice, CsvQuantity } from '../../src/contract/csv-columns.ts'
import type { DecimalSign } from '../../src/contract/csv-numbers.ts'
import { QUANTITIES, type Quantity } from '../../src/records/quantity.ts'
import type { TestKind } from '../../src/records/test-kind.ts'
import type { TestConditions } from '../../src/records/test-run.ts'
import {
  type CsvRecording,
  DEFAULT_CSV_READ_OPTIONS,
  openCsvRecording,
} from '../files/csv-reader.ts'
import { lookAtPosition, type PositionCourse } from '../files/position-course.ts'
import type { TurnCounter } from '../files/turns.ts'
import { openStore } from '../store/open-store.ts'
import type { ColumnPiece } from '../store/run-record.ts'
import type { ReportJob } from './job.ts'

export interface ImportInput {
  readonly file: string
  /** What the user calls the file, kept with the run. */
  readonly source: string
  readonly choices: readonly ColumnChoice[] | null
  readonly invert: readonly CsvQuantity[]
  /** Left out: as the file tells. */
  readonly decimal?: DecimalSign
  /** Time from row to row of a file without a time column; left out: as its preamble states. */
  readonly intervalSec?: number
  /** Where to store it; null for a preview that stores nothing. */
  readonly into: ImportTarget | null
  /** A preview of a large file: only what its first rows tell. */
  readonly headOnly?: boolean
}

export interface ImportTarget {
  readonly storeFile: string
  readonly motor: string
  readonly kind: TestKind
  readonly conditions: TestConditions
}

export interface ImportOutput {
  /** Null for a preview. */
  readonly runId: number | null
  readonly rows: number
  readonly columns: readonly ImportedColumn[]
  readonly ignored: readonly string[]
  /** Null where a column holds the time, or each row is a steady reading. */
  readonly intervalSec: number | null
  readonly warnings: readonly string[]
}

/** What a column held, in SI. */
export interface ImportedColumn {
  readonly quantity: CsvQuantity
  readonly header: string
  readonly unit: string
  readonly inverted: boolean
  readonly gaps: number
  /** Null where every cell is a gap. */
  readonly lowest: number | null
  readonly highest: number | null
  readonly first: readonly (number | null)[]
}

/** Reads a recording made elsewhere, row by row in bounded memory, into the store (or only looks at it). */
export async function importJob(input: ImportInput, report: ReportJob): Promise<ImportOutput> {
  const recording = await openCsvRecording(input.file, {
    ...DEFAULT_CSV_READ_OPTIONS,
    choices: input.choices,
    invert: new Set(input.invert),
    decimal: input.decimal ?? null,
    intervalSec: input.intervalSec ?? null,
  })
  const present = new Set(recording.layout.columns.map(c => c.quantity))
  const stray = input.invert.find(quantity => !present.has(quantity))
  if (stray) {
    throw new InputFault(
      `${input.source}: --invert ${stray}: no such column among ${[...present].join(', ')}`,
    )
  }
  if (input.headOnly) {
    const { layout, intervalSec, remarks } = recording
    const { ignored } = layout
    return { runId: null, rows: 0, columns: [], ignored, intervalSec, warnings: remarks }
  }
  const position = await lookAtPosition(recording)
  const { turns } = position
  const tally = new ImportTally(recording, input, position)
  if (input.into === null) {
    for await (const piece of pieces(recording, tally, turns, report)) void piece
    return tally.output(null)
  }
  const store = openStore(input.into.storeFile, { now: Date.now })
  const isNew = store.motors.find(input.into.motor) === null
  const motor = store.motors.ensure(input.into.motor)
  try {
    const runId = await store.runs.importColumns(
      {
        motorId: motor.id,
        kind: input.into.kind,
        origin: 'import',
        conditions: input.into.conditions,
        benchId: null,
        rig: null,
        channels: [],
        rateHz: null,
        plan: null,
        source: input.source,
      },
      pieces(recording, tally, turns, report),
    )
    return tally.output(runId)
  } catch (error) {
    if (isNew) store.motors.discard(motor.id)
    throw error
  } finally {
    store.close()
  }
}

async function* pieces(
  recording: CsvRecording,
  tally: ImportTally,
  turns: TurnCounter | null,
  report: ReportJob,
): AsyncGenerator<ColumnPiece> {
  const { columns } = recording.layout
  for await (const batch of recording.batches()) {
    const values = columns.map(({ quantity }, i) =>
      turns && quantity === 'position' ? turns.countOn(batch.columns[i]!) : batch.columns[i]!,
    )
    const rowsBefore = tally.rows
    tally.add(values)
    report({ fraction: batch.fractionRead, text: `${tally.rows} rows read` })
    const of = (quantity: CsvQuantity) => {
      const index = columns.findIndex(c => c.quantity === quantity)
      return index < 0 ? null : values[index]!
    }
    const time = of('time')
    const bridge = of('bridge')
    yield {
      timeSec:
        time?.map(t => t - tally.startSec) ??
        evenTimes(rowsBefore, batch.rowCount, recording.intervalSec),
      columns: Object.fromEntries(
        QUANTITIES.flatMap(quantity => {
          const column = of(quantity)
          return column ? [[quantity, column]] : []
        }),
      ) as Partial<Record<Quantity, Float64Array>>,
      bridge: bridge && Uint8Array.from(bridge),
    }
  }
}

const evenTimes = (firstRow: number, count: number, intervalSec: number | null) =>
  intervalSec === null
    ? null
    : Float64Array.from({ length: count }, (_, i) => (firstRow + i) * intervalSec)

const SHOWN_ROWS = 5

/** Counts what passes, for the preview and for warnings. */
class ImportTally {
  rows = 0
  /** Time stamp of the first row: a run counts from its own start. */
  startSec = 0
  readonly #recording: CsvRecording
  readonly #input: ImportInput
  readonly #position: PositionCourse
  readonly #gaps: number[]
  readonly #lowest: number[]
  readonly #highest: number[]
  readonly #first: (number | null)[][]
  #repeatedTimes = 0
  #lastTime = Number.NaN

  constructor(recording: CsvRecording, input: ImportInput, position: PositionCourse) {
    this.#recording = recording
    this.#input = input
    this.#position = position
    const { columns } = recording.layout
    this.#gaps = columns.map(() => 0)
    this.#lowest = columns.map(() => Number.POSITIVE_INFINITY)
    this.#highest = columns.map(() => Number.NEGATIVE_INFINITY)
    this.#first = columns.map(() => [])
  }

  add(columns: readonly Float64Array[]): void {
    for (const [i, column] of columns.entries()) {
      const isTime = this.#recording.layout.columns[i]!.quantity === 'time'
      if (isTime && this.rows === 0) this.startSec = column[0]!
      for (const value of column) {
        if (isTime) {
          if (value === this.#lastTime) this.#repeatedTimes++
          this.#lastTime = value
        }
        if (this.#first[i]!.length < SHOWN_ROWS)
          this.#first[i]!.push(Number.isNaN(value) ? null : value)
        if (Number.isNaN(value)) this.#gaps[i]!++
        else {
          if (value < this.#lowest[i]!) this.#lowest[i] = value
          if (value > this.#highest[i]!) this.#highest[i] = value
        }
      }
    }
    this.rows += columns[0]?.length ?? 0
  }

  output(runId: number | null): ImportOutput {
    const columns = this.#recording.layout.columns.map((c, i) => {
      const isEmpty = this.#gaps[i] === this.rows
      return {
        quantity: c.quantity,
        header: c.header,
        unit: c.unit,
        inverted: this.#input.invert.includes(c.quantity),
        gaps: this.#gaps[i]!,
        lowest: isEmpty ? null : this.#lowest[i]!,
        highest: isEmpty ? null : this.#highest[i]!,
        first: this.#first[i]!,
      }
    })
    return {
      runId,
      rows: this.rows,
      columns,
      ignored: this.#recording.layout.ignored,
      intervalSec: this.#recording.intervalSec,
      warnings: this.#warnings(columns),
    }
  }

  #warnings(columns: readonly ImportedColumn[]): string[] {
    const warnings = [...this.#recording.remarks]
    warnings.push(
      ...columns
        .filter(c => c.lowest === null)
        .map(c => `column '${c.header}' has no number in it`),
    )
    const kind = this.#input.into?.kind
    const isStill = kind === 'locked-rotor' || kind === 'zero'
    const constant = columns.filter(
      c =>
        this.rows > 2 &&
        c.quantity !== 'bridge' &&
        !(isStill && (c.quantity === 'speed' || c.quantity === 'position')) &&
        c.lowest !== null &&
        c.lowest === c.highest,
    )
    warnings.push(
      ...constant.map(c => `column '${c.header}' never changes: is the sensor connected?`),
    )
    const { turns, remark } = this.#position
    if (remark) warnings.push(remark)
    if (turns && turns.farSteps > 0) {
      warnings.push(
        `${turns.farSteps} steps of the position are near half of that: which way the shaft went is not sure, sample faster`,
      )
    }
    if (this.#repeatedTimes > 0) {
      warnings.push(
        `${this.#repeatedTimes} rows carry the same time as the row before: the time stamps are too coarse for the sampling`,
      )
    }
    return warnings
  }
}
