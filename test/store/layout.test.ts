import { expect, onTestFinished, test } from 'vitest'
import { openDatabase } from '../../server/store/sqlite.ts'
import { countAt, countBlock, newImport, newRun } from '../support/sample-runs.ts'
import { scratchStore } from '../support/scratch-store.ts'

/**
 * Other programs may read the store by the description at the head of the first migration: this test
 * reads it in that way, byte by byte.
 */
// biome-ignore lint/suspicious/noExplicitAny: rows are read as any other program would see them
function rows(file: string, sql: string): Record<string, any>[] {
  const db = openDatabase(file, { readonly: true })
  onTestFinished(() => {
    db.close()
  })
  return db.prepare<[], Record<string, unknown>>(sql).all()
}

test('counts, envelopes and marks lie as documented', () => {
  const store = scratchStore()
  const writer = store.runs.begin(newRun(store.motors.add({ name: 'M' }).id))
  writer.samples(countBlock(7, 300))
  writer.samples(countBlock(400, 300))
  writer.finish('complete', '', null)
  const [chunk] = rows(store.file, 'SELECT * FROM chunks')
  expect(chunk).toMatchObject({ first_sample: 0, sample_count: 600 })
  const marks = Buffer.from(chunk!.marks)
  expect(marks).toHaveLength(2 * 4 * 8)
  const numbers = Array.from({ length: 8 }, (_, i) => marks.readDoubleLE(i * 8))
  expect(numbers).toEqual([0, 7, 7e-4, 1e-4, 300, 400, 0.04, 1e-4])

  const columns = rows(store.file, 'SELECT * FROM chunk_columns ORDER BY rowid')
  expect(columns.map(column => column.column_name)).toEqual(['#0', '#1', '#2'])
  const [, current] = columns
  const expected = Array.from({ length: 600 }, (_, i) => countAt(i < 300 ? 7 + i : 100 + i, 1))
  const data = Buffer.from(current!.data)
  expect(current!.encoding).toBe('i16')
  expect(Array.from({ length: 600 }, (_, i) => data.readInt16LE(i * 2))).toEqual(expected)
  expect(current).toMatchObject({
    low: Math.min(...expected),
    high: Math.max(...expected),
    present: 600,
  })

  const envelope = Buffer.from(current!.envelope)
  const buckets = [expected.slice(0, 256), expected.slice(256, 512), expected.slice(512)]
  const part = (n: number) => buckets.map((_, b) => envelope.readFloatLE((n * 3 + b) * 4))
  expect(envelope).toHaveLength(4 * 3 * 4)
  expect(part(0)).toEqual(buckets.map(bucket => Math.min(...bucket)))
  expect(part(2)).toEqual(buckets.map(bucket => Math.max(...bucket)))
  expect(part(3)).toEqual([256, 256, 88])
  for (const [b, mean] of part(1).entries()) {
    const exact = buckets[b]!.reduce((sum, count) => sum + count, 0) / buckets[b]!.length
    expect(Math.abs(mean - exact)).toBeLessThan(2e-3)
  }
})

test('imported columns lie as documented', async () => {
  const store = scratchStore()
  const timeSec = Float64Array.of(0, 0.5, 1.25)
  const voltage = Float64Array.of(12.125, Number.NaN, -1e-3)
  await store.runs.importColumns(newImport(store.motors.add({ name: 'M' }).id), [
    { timeSec, columns: { voltage }, bridge: Uint8Array.of(0, 1, 255) },
  ])
  const [chunk] = rows(store.file, 'SELECT * FROM chunks')
  expect(chunk).toMatchObject({ start_sec: 0, end_sec: 1.25 })
  expect(chunk!.marks).toHaveLength(0)
  const columns = rows(store.file, 'SELECT * FROM chunk_columns ORDER BY rowid')
  expect(columns.map(({ column_name, encoding }) => `${column_name} ${encoding}`)).toEqual([
    'time f64',
    'voltage f64',
    'bridge u8',
  ])
  const volts = Buffer.from(columns[1]!.data)
  expect([0, 8, 16].map(at => volts.readDoubleLE(at))).toEqual([...voltage])
  expect([...Buffer.from(columns[2]!.data)]).toEqual([0, 1, 255])
  expect(columns[1]).toMatchObject({ present: 2, low: -1e-3, high: 12.125 })
})
