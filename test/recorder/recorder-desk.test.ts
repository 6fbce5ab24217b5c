import type { Database } from 'better-sqlite3'
import { expect, test, vi } from 'vitest'
import type { FromWorker, LogEntry, ToWorker } from '../../server/recorder/messages.ts'
import { recorderDesk } from '../../server/recorder/recorder-desk.ts'
import { openStore } from '../../server/store/open-store.ts'
import { countBlock, newRun } from '../support/sample-runs.ts'
import { scratchFile, scratchStore, steppingClock } from '../support/scratch-store.ts'

const { opened } = vi.hoisted(() => ({ opened: [] as Database[] }))
vi.mock('../../server/store/sqlite.ts', async importOriginal => {
  const real = await importOriginal<typeof import('../../server/store/sqlite.ts')>()
  const openDatabase: typeof real.openDatabase = (...args) => {
    opened.push(real.openDatabase(...args))
    return opened.at(-1)!
  }
  return { ...real, openDatabase }
})

function setUp() {
  const file = scratchFile()
  const reader = scratchStore(file)
  const motorId = reader.motors.add({ name: 'M' }).id
  const store = openStore(file, { now: steppingClock() })
  const db = opened.at(-1)!
  return { reader, motorId, desk: recorderDesk(store), db }
}

const samples = (first: number, count: number): LogEntry => ({
  type: 'samples',
  block: countBlock(first, count),
})

const finish = (...entries: LogEntry[]): ToWorker => ({
  type: 'finish',
  entries,
  ending: 'stopped',
  text: 'by hand',
  counters: null,
})

test('a full disk is answered in words; the end of the run is made up for when there is room', () => {
  const { reader, motorId, desk, db } = setUp()
  expect(desk({ type: 'begin', run: newRun(motorId) })).toEqual({ type: 'begun', runId: 1 })
  const stored = desk({ type: 'store', entries: [samples(0, 1000)] })
  // Its memory goes back to be filled again.
  expect(stored).toMatchObject({ type: 'stored', spare: [{ byteLength: 6000 }] })
  const used = Number(db.pragma('page_count', { simple: true }))
  db.pragma(`max_page_count = ${used + 2}`)
  const full: FromWorker = {
    type: 'failed',
    text: expect.stringContaining('the disk is full; free some space'),
    isBadInput: false,
  }
  expect(desk({ type: 'store', entries: [samples(1000, 90_000)] })).toEqual(full)
  expect(desk({ type: 'store', entries: [] })).toEqual(full)
  expect(desk(finish(samples(91_000, 1000)))).toEqual(full)
  expect(reader.runs.recording(1).sampleCount).toBe(1000)
  expect(desk({ type: 'begin', run: newRun(motorId) })).toEqual(full)
  db.pragma('max_page_count = 1000000')
  expect(desk({ type: 'begin', run: newRun(motorId) })).toEqual({ type: 'begun', runId: 2 })
  expect(reader.runs.get(1)).toMatchObject({ ending: 'stopped', sampleCount: 92_000 })
})

test('a run is logged on the bench that its rig belongs to, with its fixture and calibration', () => {
  const { reader, motorId, desk } = setUp()
  const fixture = {
    inertiaKgM2: 1e-6,
    inertiaUncertaintyKgM2: 1e-8,
    coulombTorqueNm: 0,
    coulombTorqueUncertaintyNm: 0,
    viscousNmsPerRad: 0,
    viscousUncertaintyNmsPerRad: 0,
  }
  const benchId = reader.benches.add({
    name: 'B',
    rigSerialNumber: 'R-1',
    supplyVolt: null,
    supplyLimitAmp: null,
    declaredAbove60Volt: false,
    sensors: [],
    fixture,
    notes: '',
  }).id
  const { id } = reader.calibrations.add({
    benchId,
    channel: 'i',
    gain: 2,
    zero: 0,
    gainUncertainty: 0,
    zeroUncertainty: 0,
    method: 'entered',
    references: [],
    points: [],
    author: '',
    notes: '',
    performedAt: '2026-01-01T00:00:00.000Z',
    validUntil: null,
  })
  const rig = {
    model: 'Rig',
    serialNumber: 'R-1',
    firmware: '1',
    protocolVersion: '1.0',
    simulated: false,
  }
  desk({ type: 'begin', run: newRun(motorId, { rig }) })
  desk(finish(samples(0, 1)))
  expect(reader.runs.get(1)).toMatchObject({
    benchId,
    calibrationIds: [id],
    conditions: { fixture },
  })
  desk({ type: 'begin', run: newRun(motorId, { rig: { ...rig, serialNumber: 'R-2' } }) })
  desk(finish())
  expect(reader.runs.get(2)).toMatchObject({
    benchId: null,
    calibrationIds: [],
    conditions: { fixture: null },
  })
})

test('a run of a motor that is not there is bad input', () => {
  const { desk } = setUp()
  expect(desk({ type: 'begin', run: newRun(9) })).toEqual({
    type: 'failed',
    text: 'no motor 9 in the store',
    isBadInput: true,
  })
})
