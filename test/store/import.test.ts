import { expect, test } from 'vitest'
import type { ColumnPiece } from '../../server/store/run-record.ts'
import { InputFault } from '../../src/base/faults.ts'
import { newImport } from '../support/sample-runs.ts'
import { scratchStore } from '../support/scratch-store.ts'

function storeWithMotor() {
  const store = scratchStore()
  return { store, motorId: store.motors.add({ name: 'M' }).id }
}

/** Rows `from` up to `to` of a recording with a gap in the current and a bridge column. */
function piece(from: number, to: number): ColumnPiece {
  const rows = Float64Array.from({ length: to - from }, (_, i) => from + i)
  return {
    timeSec: rows.map(row => row * 1e-3 + 1e-9 * Math.sin(row)),
    columns: {
      voltage: rows.map(row => row / 7),
      current: rows.map(row => (row % 1000 === 5 ? Number.NaN : -row / 3)),
      position: rows.map(row => row * Math.PI * 1e4),
    },
    bridge: Uint8Array.from(rows, row => [0, 1, 2, 255][Math.floor(row / 100) % 4]!),
  }
}

/** Every bit of a column: quicker to compare than numbers, and stricter about gaps. */
const bytes = (column: Float64Array | Uint8Array | null | undefined): Buffer =>
  column ? Buffer.from(column.buffer, column.byteOffset, column.byteLength) : Buffer.alloc(0)

test('pieces of any size come back as one recording, number for number', async () => {
  const { store, motorId } = storeWithMotor()
  async function* pieces() {
    yield piece(0, 1)
    yield piece(1, 70_000)
    yield piece(70_000, 70_000)
    yield piece(70_000, 150_000)
  }
  const id = await store.runs.importColumns(newImport(motorId), pieces())
  const whole = piece(0, 150_000)
  const recording = store.runs.recording(id)
  expect(bytes(recording.timeSec).equals(bytes(whole.timeSec))).toBe(true)
  expect(Object.keys(recording.columns)).toEqual(['voltage', 'current', 'position'])
  for (const quantity of ['voltage', 'current', 'position'] as const) {
    const [got, given] = [recording.columns[quantity], whole.columns[quantity]]
    expect(bytes(got).equals(bytes(given))).toBe(true)
  }
  expect(bytes(recording.bridge).equals(bytes(whole.bridge))).toBe(true)
  expect(recording.traits).toEqual({})
  expect(store.runs.get(id)).toMatchObject({
    ending: 'imported',
    origin: 'import',
    source: 'bench.csv',
    sampleCount: 150_000,
    quantities: ['voltage', 'current', 'position'],
    rateHz: null,
  })
})

test('rows without time are steady readings', async () => {
  const { store, motorId } = storeWithMotor()
  const voltage = Float64Array.of(0.5, 1, 2)
  const current = Float64Array.of(0.33, 0.4, Number.NaN)
  const id = await store.runs.importColumns(newImport(motorId), [
    { timeSec: null, columns: { voltage, current }, bridge: null },
  ])
  const recording = store.runs.recording(id)
  expect(recording).toMatchObject({ timeSec: null, bridge: null, sampleCount: 3, edges: [] })
  expect(recording.columns).toEqual({ voltage, current })
  expect(store.runs.get(id).durationSec).toBeNull()
})

const failing = [
  {
    name: 'a source that fails in the middle',
    pieces: function* () {
      yield piece(0, 140_000)
      throw new InputFault('bench.csv:140002: no number')
    },
    text: 'bench.csv:140002: no number',
  },
  { name: 'no rows', pieces: () => [], text: 'the recording has no rows' },
  { name: 'only empty pieces', pieces: () => [piece(0, 0)], text: 'the recording has no rows' },
  {
    name: 'columns that change',
    pieces: () => [piece(0, 10), { ...piece(10, 20), bridge: null }],
    text: 'columns time,voltage,current,position; must be time,voltage,current,position,bridge',
  },
  {
    name: 'columns of different lengths',
    pieces: () => [{ ...piece(0, 10), bridge: new Uint8Array(9) }],
    text: 'column bridge has 9 rows; must have 10',
  },
  {
    name: 'time that runs backwards between pieces',
    pieces: () => [piece(10, 20), piece(0, 10)],
    text: 'timeSec = 0; must be a number >= 0.019',
  },
]

test.each(failing)('$name leaves nothing behind', async ({ pieces, text }) => {
  const { store, motorId } = storeWithMotor()
  await expect(store.runs.importColumns(newImport(motorId), pieces())).rejects.toThrow(text)
  expect(store.runs.list()).toEqual([])
  expect(store.runs.list({ deleted: true })).toEqual([])
  expect(() => store.runs.get(1)).toThrow('no run 1')
})

test('an import is not listed before it is whole', async () => {
  const { store, motorId } = storeWithMotor()
  async function* pieces() {
    yield piece(0, 70_000)
    expect(store.runs.list()).toEqual([])
    yield piece(70_000, 70_001)
  }
  await store.runs.importColumns(newImport(motorId), pieces())
  expect(store.runs.list()).toHaveLength(1)
})
