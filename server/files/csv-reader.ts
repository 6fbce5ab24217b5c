import { basename } from 'node:path'
import { Readable } from 'node:stream'
import { CsvError, parse } from 'csv-parse'
import { InputFault } from '../../src/base/faults.ts'
import { type Result, success } from '../../src/base/result.ts'
import { shorten } from '../../src/contract/csv-cells.ts'
import {
  type ColumnChoice,
  type CsvLayout,
  type CsvQuantity,
  layOutColumns,
} from '../../src/contract/csv-columns.ts'
import {
  type DecimalSign,
  type NumberWriting,
  tellWriting,
} from '../../src/contract/csv-numbers.ts'
import { asInputFault, firstLines, inspect, unpackedBytes, withoutLines } from './csv-bytes.ts'
import { type CsvBatch, RowCollector } from './csv-rows.ts'
import { type CsvShape, delimiterOf, findCsvShape, splitCells } from './csv-shape.ts'
import { type FoundClock, findClock, findInterval, withClockUnit } from './csv-time.ts'

export interface CsvReadOptions {
  readonly choices: readonly ColumnChoice[] | null
  /** Quantities whose sign is turned round. */
  readonly invert: ReadonlySet<CsvQuantity>
  /** Null: as the first rows tell. */
  readonly decimal: DecimalSign | null
  /** Time from row to row of a file without a time column; null: as its preamble states, or none. */
  readonly intervalSec: number | null
  /** Rows a batch; a batch is what is held in memory at once. */
  readonly batchRows: number
  /** A compressed file may not unpack to more than this. */
  readonly maxUnpackedBytes: number
}

export const DEFAULT_CSV_READ_OPTIONS: CsvReadOptions = {
  choices: null,
  invert: new Set(),
  decimal: null,
  intervalSec: null,
  batchRows: 65_536,
  maxUnpackedBytes: 4 * 1024 ** 3,
}

export interface CsvRecording {
  readonly layout: CsvLayout
  readonly shape: CsvShape
  readonly writing: NumberWriting
  /** Rows are samples so far apart; null where a column holds the time, or each row is a steady reading. */
  readonly intervalSec: number | null
  /** Where the time was found in the file without being named, or what was not taken for it and why. */
  readonly remarks: readonly string[]
  batches(): AsyncGenerator<CsvBatch>
}

/** Nobody reads more steady values than that by hand: a longer table is a recording whose time is not told. */
const MOST_STEADY_ROWS = 200

/**
 * Opens a recording as delimited text, gzip or plain. The layout is known at once; the rows are
 * streamed. Throws `InputFault` that names file, line and what would be right.
 */
export async function openCsvRecording(
  file: string,
  options: CsvReadOptions,
): Promise<CsvRecording> {
  const name = basename(file)
  const { size, packed } = await inspect(file, name)
  const lines = await firstLines(file, packed, name, options.maxUnpackedBytes)
  const shape = findCsvShape(lines, options.choices)
  if (!shape) {
    const wanted = options.choices
      ? `a line with the columns ${options.choices.map(c => `'${c.column}'`).join(', ')}`
      : "a header such as 'time [s],voltage [V],current [A]', or name the columns with --columns"
    throw new InputFault(
      `${name}: no header found in the first ${lines.length} lines (line 1 is '${shorten(lines[0] ?? '')}'); needs ${wanted}`,
    )
  }
  const rows = lines.slice(shape.linesBeforeData).map(line => splitCells(line, shape.delimiter))
  const clock =
    options.choices || options.intervalSec !== null ? null : findClock(shape.header, rows)
  const layout = layOut(shape, rows, options.choices, clock)
  if (!layout.ok)
    throw new InputFault(`${name}:${Math.max(1, shape.linesBeforeData)}: ${layout.error}`)
  const writing = options.decimal ?? writingOf(rows, shape, layout.value, name)
  const hasTime = layout.value.columns.some(c => c.quantity === 'time')
  if (hasTime && options.intervalSec !== null) {
    throw new InputFault(
      `${name}: has a time column; leave out --interval, or name the columns to take, without the time, with --columns`,
    )
  }
  const preamble = lines
    .slice(0, shape.linesBeforeData)
    .map(line => splitCells(line, delimiterOf(line, shape.delimiter)))
  const stated = hasTime || options.intervalSec !== null ? null : findInterval(preamble, writing)
  const known = {
    layout: layout.value,
    shape,
    writing,
    intervalSec: options.intervalSec ?? stated?.sec ?? null,
    remarks: [stated, clock].flatMap(found => (found ? [found.remark] : [])),
  }
  return { ...known, batches: () => readBatches({ file, name, size, packed, options, ...known }) }
}

/** The columns as named or chosen, with clock times as the time where they serve. */
function layOut(
  { header }: CsvShape,
  rows: readonly (readonly string[])[],
  choices: readonly ColumnChoice[] | null,
  clock: FoundClock | null,
): Result<CsvLayout, string> {
  if (choices) return layOutColumns(header, withClockUnit(choices, header, rows))
  if (!clock) return layOutColumns(header, null)
  // A column that is called 'time' is not to be missed for its unit.
  const others = header.map((cell, i) => (i === clock.index ? `${cell.trim()} (clock)` : cell))
  const layout = layOutColumns(others, null)
  if (!layout.ok) return layout
  const { columns, ignored } = layout.value
  return success({
    columns: clock.column ? [clock.column, ...columns] : columns,
    ignored: clock.column ? ignored.filter(cell => cell !== others[clock.index]) : ignored,
  })
}

/** The decimal sign as the first rows tell it; throws where they leave it open. */
function writingOf(
  rows: readonly (readonly string[])[],
  shape: CsvShape,
  layout: CsvLayout,
  name: string,
): NumberWriting {
  const taken = layout.columns.filter(c => c.quantity !== 'bridge').map(c => c.index)
  const told = tellWriting(rows, new Set(taken), shape.delimiter === ',')
  if (typeof told === 'string') return told
  const header = shape.header[told.column]!.trim()
  throw new InputFault(
    `${name}:${shape.linesBeforeData + told.row + 1}: column '${header}': ${told.reason}`,
  )
}

interface ReadJob {
  readonly file: string
  readonly name: string
  readonly size: number
  readonly packed: boolean
  readonly options: CsvReadOptions
  readonly shape: CsvShape
  readonly layout: CsvLayout
  readonly writing: NumberWriting
  readonly intervalSec: number | null
  readonly remarks: readonly string[]
}

async function* readBatches(job: ReadJob): AsyncGenerator<CsvBatch> {
  const { options, shape, layout, name } = job
  let bytesRead = 0
  const bytes = unpackedBytes(job.file, job.packed, name, options.maxUnpackedBytes, n => {
    bytesRead += n
  })
  const parser = parse({
    delimiter: shape.delimiter,
    bom: shape.linesBeforeData === 0,
    relax_column_count: true,
    skip_empty_lines: true,
    info: true,
  })
  const source = Readable.from(withoutLines(bytes, shape.linesBeforeData))
  source.on('error', error => parser.destroy(error))
  source.pipe(parser)
  const rows = new RowCollector({ name, layout, writing: job.writing, ...options })
  const hasTime = layout.columns.some(c => c.quantity === 'time')
  const checkLength = () => {
    if (hasTime || job.intervalSec !== null || rows.total <= MOST_STEADY_ROWS) return
    const why = job.remarks.map(remark => ` (${remark})`).join('')
    throw new InputFault(
      `${name}: more than ${MOST_STEADY_ROWS} rows and no time${why}: no table of steady readings is that long; say how far apart the rows were sampled with --interval <s>, or which column is the time with --columns`,
    )
  }
  try {
    for await (const { record, info } of parser as AsyncIterable<{
      record: string[]
      info: { lines: number }
    }>) {
      const batch = rows.add(record, shape.linesBeforeData + info.lines)
      if (!batch) continue
      checkLength()
      yield { ...batch, fractionRead: Math.min(1, bytesRead / job.size) }
    }
  } catch (error) {
    throw asCsvFault(error, name, shape.linesBeforeData)
  } finally {
    source.destroy()
  }
  if (rows.total === 0) {
    throw new InputFault(`${name}: no rows of samples after line ${shape.linesBeforeData}`)
  }
  checkLength()
  const last = rows.rest()
  if (last) yield { ...last, fractionRead: 1 }
  if ((hasTime || job.intervalSec !== null) && rows.total < 2) {
    throw new InputFault(
      `${name}: a single row is no recording; leave out the time for hand-read steady values`,
    )
  }
}

/** The parser counts lines from where it was started. */
function asCsvFault(error: unknown, name: string, linesBefore: number): unknown {
  if (!(error instanceof CsvError)) return asInputFault(error, name)
  const line = linesBefore + Number(error.lines ?? 0)
  return error.code === 'CSV_QUOTE_NOT_CLOSED'
    ? new InputFault(
        `${name}:${line}: a quoted cell begins and never ends; close it with a double quote`,
      )
    : new InputFault(`${name}:${line}: ${error.message.replace(/ at line \d+.*/s, '')}`)
}
