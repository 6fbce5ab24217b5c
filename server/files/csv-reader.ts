import { createReadStream } from 'node:fs'
import { open, stat } from 'node:fs/promises'
import { basename } from 'node:path'
import { Readable } from 'node:stream'
import { createGunzip } from 'node:zlib'
import { CsvError, parse } from 'csv-parse'
import { InputFault } from '../../src/base/faults.ts'
import { bridgeCell, numberCell, shorten } from '../../src/contract/csv-cells.ts'
import {
  type ColumnChoice,
  type CsvColumn,
  type CsvLayout,
  type CsvQuantity,
  layOutColumns,
} from '../../src/contract/csv-columns.ts'
import {
  type DecimalSign,
  type NumberWriting,
  tellWriting,
} from '../../src/contract/csv-numbers.ts'
import { type StatedInterval, statedInterval } from '../../src/contract/csv-interval.ts'
import { type CsvShape, delimiterOf, findCsvShape, splitCells } from './csv-shape.ts'

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

/** Consecutive rows as columns in SI; NaN is a gap. The columns stand in the order of the layout. */
export interface CsvBatch {
  readonly rowCount: number
  readonly columns: readonly Float64Array[]
  /** Share of the file read so far, 0 to 1. */
  readonly fractionRead: number
}

export interface CsvRecording {
  readonly layout: CsvLayout
  readonly shape: CsvShape
  readonly writing: NumberWriting
  /** Rows are samples so far apart; null where a column holds the time, or each row is a steady reading. */
  readonly intervalSec: number | null
  /** Where the interval was found in the file itself. */
  readonly stated: StatedInterval | null
  batches(): AsyncGenerator<CsvBatch>
}

const HEAD_BYTES = 65_536
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
  const lines = await firstLines(file, packed, name, options)
  const shape = findCsvShape(lines, options.choices)
  if (!shape) {
    const wanted = options.choices
      ? `a line with the columns ${options.choices.map(c => `'${c.column}'`).join(', ')}`
      : "a header such as 'time [s],voltage [V],current [A]', or name the columns with --columns"
    throw new InputFault(
      `${name}: no header found in the first ${lines.length} lines (line 1 is '${shorten(lines[0] ?? '')}'); needs ${wanted}`,
    )
  }
  const layout = layOutColumns(shape.header, options.choices)
  if (!layout.ok)
    throw new InputFault(`${name}:${Math.max(1, shape.linesBeforeData)}: ${layout.error}`)
  const writing = options.decimal ?? writingOf(lines, shape, layout.value, name)
  const hasTime = layout.value.columns.some(c => c.quantity === 'time')
  if (hasTime && options.intervalSec !== null) {
    throw new InputFault(
      `${name}: has a time column; leave out --interval, or name the columns to take, without the time, with --columns`,
    )
  }
  const preamble = lines
    .slice(0, shape.linesBeforeData)
    .map(line => splitCells(line, delimiterOf(line, shape.delimiter)))
  const stated = hasTime || options.intervalSec !== null ? null : statedInterval(preamble, writing)
  const intervalSec = options.intervalSec ?? stated?.sec ?? null
  const known = { layout: layout.value, shape, writing, stated, intervalSec }
  return { ...known, batches: () => readBatches({ file, name, size, packed, options, ...known }) }
}

/** The decimal sign as the first rows tell it; throws where they leave it open. */
function writingOf(
  lines: readonly string[],
  shape: CsvShape,
  layout: CsvLayout,
  name: string,
): NumberWriting {
  const taken = layout.columns.filter(c => c.quantity !== 'bridge').map(c => c.index)
  const rows = lines.slice(shape.linesBeforeData).map(line => splitCells(line, shape.delimiter))
  const told = tellWriting(rows, new Set(taken), shape.delimiter === ',')
  if (typeof told === 'string') return told
  const header = shape.header[told.column]!.trim()
  throw new InputFault(
    `${name}:${shape.linesBeforeData + told.row + 1}: column '${header}': ${told.reason}`,
  )
}

async function inspect(file: string, name: string): Promise<{ size: number; packed: boolean }> {
  try {
    const facts = await stat(file)
    if (!facts.isFile()) throw new InputFault(`${name} is not a file`)
    if (facts.size === 0)
      throw new InputFault(`${name} is empty; a recording has a header and rows`)
    const handle = await open(file)
    try {
      const { buffer, bytesRead } = await handle.read(Buffer.alloc(2), 0, 2, 0)
      return {
        size: facts.size,
        packed: bytesRead === 2 && buffer[0] === 0x1f && buffer[1] === 0x8b,
      }
    } finally {
      await handle.close()
    }
  } catch (error) {
    throw asInputFault(error, name)
  }
}

function asInputFault(error: unknown, name: string): unknown {
  const code = (error as NodeJS.ErrnoException).code
  if (code === 'ENOENT') return new InputFault(`${name}: no such file`)
  if (code === 'EACCES' || code === 'EPERM')
    return new InputFault(`${name}: may not be read; check its permissions`)
  if (code === 'EISDIR') return new InputFault(`${name} is a folder, not a file`)
  if (code?.startsWith('Z_') || code === 'ERR_BUFFER_TOO_LARGE') {
    return new InputFault(`${name}: damaged gzip data (${(error as Error).message})`)
  }
  return error
}

/** The file's bytes from the start, unpacked; counts the packed bytes for progress and caps the unpacked ones. */
async function* unpackedBytes(
  file: string,
  packed: boolean,
  name: string,
  options: CsvReadOptions,
  onRead: (bytes: number) => void,
): AsyncGenerator<Buffer> {
  const source = createReadStream(file, { highWaterMark: 1 << 18 })
  source.on('data', piece => onRead(piece.length))
  source.pause()
  const stream = packed ? source.pipe(createGunzip()) : source
  source.on('error', error => stream.destroy(error))
  let unpacked = 0
  try {
    for await (const piece of stream as AsyncIterable<Buffer>) {
      unpacked += piece.length
      if (packed && unpacked > options.maxUnpackedBytes) {
        throw new InputFault(
          `${name}: unpacks to more than ${(options.maxUnpackedBytes / 1024 ** 2).toPrecision(3)} MiB; unpack it yourself if that is meant`,
        )
      }
      yield piece
    }
  } catch (error) {
    throw asInputFault(error, name)
  } finally {
    source.destroy()
  }
}

async function firstLines(
  file: string,
  packed: boolean,
  name: string,
  options: CsvReadOptions,
): Promise<string[]> {
  const pieces: Buffer[] = []
  let length = 0
  for await (const piece of unpackedBytes(file, packed, name, options, () => {})) {
    pieces.push(piece)
    length += piece.length
    if (length >= HEAD_BYTES) break
  }
  const head = Buffer.concat(pieces).subarray(0, HEAD_BYTES)
  if (
    head.length >= 2 &&
    ((head[0] === 0xff && head[1] === 0xfe) || (head[0] === 0xfe && head[1] === 0xff))
  ) {
    throw new InputFault(`${name}: is UTF-16 text; save it as UTF-8`)
  }
  if (head.includes(0)) throw new InputFault(`${name}: is not text; needs a CSV file`)
  const lines = head
    .toString('utf8')
    .replace(/^\ufeff/, '')
    .split(/\r?\n/)
  // The last line may be cut off by the limit.
  return length >= HEAD_BYTES ? lines.slice(0, -1) : lines
}

/** Leaves out the first lines of a byte stream, whatever quotes a preamble may hold. */
async function* withoutLines(source: AsyncIterable<Buffer>, count: number): AsyncGenerator<Buffer> {
  let left = count
  for await (const piece of source) {
    let from = 0
    while (left > 0) {
      const end = piece.indexOf(10, from)
      if (end < 0) break
      from = end + 1
      left--
    }
    if (left === 0) yield from === 0 ? piece : piece.subarray(from)
  }
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
}

async function* readBatches(job: ReadJob): AsyncGenerator<CsvBatch> {
  const { options, shape, layout, name } = job
  let bytesRead = 0
  const bytes = unpackedBytes(job.file, job.packed, name, options, n => {
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
  const rows = new RowCollector(job)
  const hasTime = layout.columns.some(c => c.quantity === 'time')
  const checkLength = () => {
    if (hasTime || job.intervalSec !== null || rows.total <= MOST_STEADY_ROWS) return
    throw new InputFault(
      `${name}: more than ${MOST_STEADY_ROWS} rows and no time: no table of steady readings is that long; say how far apart the rows were sampled with --interval <s>, or which column is the time with --columns`,
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

/** Gathers rows into column arrays, checking every cell; each fault names the line. */
class RowCollector {
  total = 0
  readonly #job: ReadJob
  readonly #signs: readonly number[]
  readonly #timeColumn: number
  #columns: Float64Array[] = []
  #filled = 0
  #lastTimeSec = Number.NEGATIVE_INFINITY

  constructor(job: ReadJob) {
    this.#job = job
    this.#signs = job.layout.columns.map(c => (job.options.invert.has(c.quantity) ? -1 : 1))
    this.#timeColumn = job.layout.columns.findIndex(c => c.quantity === 'time')
  }

  add(cells: readonly string[], line: number): Omit<CsvBatch, 'fractionRead'> | null {
    const { layout, options } = this.#job
    if (cells.length === 1 && cells[0]!.trim() === '') return null
    if (this.#filled === 0) {
      this.#columns = layout.columns.map(() => new Float64Array(options.batchRows))
    }
    for (const [i, column] of layout.columns.entries()) {
      this.#columns[i]![this.#filled] = this.#cell(cells, column, line) * this.#signs[i]!
    }
    if (this.#timeColumn >= 0)
      this.#checkTime(this.#columns[this.#timeColumn]![this.#filled]!, line)
    this.#filled++
    this.total++
    return this.#filled === options.batchRows ? this.rest() : null
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
      column.quantity === 'bridge' ? bridgeCell(cell) : numberCell(cell, this.#job.writing)
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
        `${this.#job.name}:${line}: time runs backwards (${timeSec} s after ${this.#lastTimeSec} s); sort the rows, or import the parts as runs of their own`,
      )
    }
    this.#lastTimeSec = timeSec
  }
}
