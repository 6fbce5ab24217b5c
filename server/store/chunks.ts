import type { Envelope, Extent } from '../../src/signals/envelope.ts'
import type { TimeMark } from '../../src/signals/time-marks.ts'
import { blobOf, numbersOf } from './blob.ts'
import { type ColumnRow, decodeData, decodeEnvelope, wholeExtent } from './column-code.ts'
import { CHUNK_SAMPLES, type ChunkRow } from './open-chunk.ts'
import type { Database } from './sqlite.ts'

/** A chunk without its columns. */
export interface ChunkHead {
  readonly firstSample: number
  readonly sampleCount: number
  readonly startSec: number | null
  readonly endSec: number | null
  readonly marks: readonly TimeMark[]
}

interface HeadRow {
  firstSample: number
  sampleCount: number
  startSec: number | null
  endSec: number | null
  marks: Buffer
}

/** Numbers in the record of one mark. */
const MARK_NUMBERS = 4

function packMarks(marks: readonly TimeMark[]): Buffer {
  const numbers = new Float64Array(marks.length * MARK_NUMBERS)
  for (const [i, mark] of marks.entries()) {
    numbers.set([mark.index, mark.sequence, mark.startSec, mark.intervalSec], i * MARK_NUMBERS)
  }
  return blobOf(numbers)
}

function unpackMarks(blob: Buffer): TimeMark[] {
  const numbers = numbersOf(blob, Float64Array)
  return Array.from({ length: numbers.length / MARK_NUMBERS }, (_, i) => ({
    index: numbers[i * MARK_NUMBERS]!,
    sequence: numbers[i * MARK_NUMBERS + 1]!,
    startSec: numbers[i * MARK_NUMBERS + 2]!,
    intervalSec: numbers[i * MARK_NUMBERS + 3]!,
  }))
}

/** The chunk tables: everything about stored samples goes through here. */
export interface ChunkTable {
  insert(runId: number, chunk: ChunkRow): void
  /** Removes the chunks from sample `first` on. */
  removeFrom(runId: number, first: number): void
  /** Chunks that hold any of the samples `from` up to `to`. */
  heads(runId: number, from: number, to: number): ChunkHead[]
  columnNames(runId: number, first: number): string[]
  summary(runId: number, first: number, column: string): Extent
  envelope(runId: number, first: number, column: string): Envelope
  data(runId: number, first: number, column: string): ReturnType<typeof decodeData>
}

export function chunkTable(db: Database): ChunkTable {
  type Key = [run: number, first: number, column: string]
  const insertHead = db.prepare(
    `INSERT INTO chunks (run_id, first_sample, sample_count, start_sec, end_sec, marks)
     VALUES (?, ?, ?, ?, ?, ?)`,
  )
  const insertColumn = db.prepare(
    `INSERT INTO chunk_columns (run_id, first_sample, column_name, encoding, low, mean, high,
       present, envelope, data)
     VALUES (@runId, @first, @name, @encoding, @low, @mean, @high, @present, @envelope, @data)`,
  )
  const remove = db.prepare('DELETE FROM chunks WHERE run_id = ? AND first_sample >= ?')
  const heads = db.prepare<[{ runId: number; from: number; to: number }], HeadRow>(
    `SELECT first_sample AS firstSample, sample_count AS sampleCount, start_sec AS startSec,
       end_sec AS endSec, marks
     FROM chunks
     WHERE run_id = @runId AND first_sample > @from - ${CHUNK_SAMPLES} AND first_sample < @to
       AND first_sample + sample_count > @from
     ORDER BY first_sample`,
  )
  const names = db
    .prepare<[number, number], string>(
      'SELECT column_name FROM chunk_columns WHERE run_id = ? AND first_sample = ? ORDER BY rowid',
    )
    .pluck()
  const prepareKeyed = <Row>(columns: string) =>
    db.prepare<Key, Row>(
      `SELECT ${columns} FROM chunk_columns
       WHERE run_id = ? AND first_sample = ? AND column_name = ?`,
    )
  const summary = prepareKeyed<Pick<ColumnRow, 'low' | 'mean' | 'high' | 'present'>>(
    'low, mean, high, present',
  )
  const envelope = prepareKeyed<Pick<ColumnRow, 'encoding' | 'envelope'>>('encoding, envelope')
  const data = prepareKeyed<Pick<ColumnRow, 'encoding' | 'data'>>('encoding, data')

  return {
    insert: (runId, chunk) => {
      const { firstSample: first, sampleCount, startSec, endSec, marks } = chunk
      insertHead.run(runId, first, sampleCount, startSec, endSec, packMarks(marks))
      for (const { name, row } of chunk.columns) insertColumn.run({ ...row, runId, first, name })
    },
    removeFrom: (runId, first) => {
      remove.run(runId, first)
    },
    heads: (runId, from, to) =>
      heads.all({ runId, from, to }).map(row => ({ ...row, marks: unpackMarks(row.marks) })),
    columnNames: (runId, first) => names.all(runId, first),
    summary: (...key) => wholeExtent(summary.get(...key)!),
    envelope: (...key) => decodeEnvelope(envelope.get(...key)!),
    data: (...key) => decodeData(data.get(...key)!),
  }
}
