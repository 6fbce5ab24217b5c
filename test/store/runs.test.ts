import { expect, test } from 'vitest'
import type { NewRun } from '../../server/store/run-record.ts'
import { UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import { countBlock, newRun } from '../support/sample-runs.ts'
import { scratchStore } from '../support/scratch-store.ts'

function storeWithRun(changes: Partial<NewRun> = {}) {
  const store = scratchStore()
  const motor = store.motors.add({ name: 'M', lot: 'Lot 5', serialNumber: 'SN-77' })
  const writer = store.runs.begin(newRun(motor.id, changes))
  writer.samples(countBlock(0, 100))
  writer.finish('complete', 'as planned', {
    samples: 100,
    samplesLost: 0,
    linesRejected: 0,
    bytes: 9,
  })
  return { store, motor, id: writer.runId }
}

test('a run comes back with everything that was known of it', () => {
  const plan: NewRun['plan'] = {
    kind: 'run-up',
    rateHz: 10_000,
    steps: [
      { bridge: 'drive', setVolt: 12, durationSec: 0.4, currentLimitAmp: 8, purpose: 'run up' },
    ],
    shaft: 'free',
    conditions: UNKNOWN_CONDITIONS,
    expectedPeakAmp: 6,
    expectedRiseKelvin: 2,
  }
  const given = {
    kind: 'run-up' as const,
    plan,
    rig: {
      model: 'Rig',
      serialNumber: 'R-1',
      firmware: '1.2',
      protocolVersion: '1.0',
      simulated: true,
    },
    conditions: { ...UNKNOWN_CONDITIONS, ambientCelsius: 23.5, supplyVolt: 12 },
  }
  const { store, id, motor } = storeWithRun(given)
  const run = store.runs.get(id)
  expect(run).toMatchObject({
    ...newRun(motor.id),
    ...given,
    motorName: 'M',
    ending: 'complete',
    endingText: 'as planned',
    counters: { samples: 100, samplesLost: 0, linesRejected: 0, bytes: 9 },
    title: '',
    annotations: [],
    deletedAt: null,
  })
  expect(run.endedAt! > run.startedAt).toBe(true)
  expect(store.runs.testRun(id)).toMatchObject({
    id,
    kind: 'run-up',
    conditions: given.conditions,
  })
})

test('runs are listed newest first and found by what is written on them', () => {
  const { store, id, motor } = storeWithRun()
  const other = store.motors.add({ name: 'N' })
  const second = store.runs.begin(newRun(other.id, { kind: 'locked-rotor', source: 'Übung.csv' }))
  second.finish('tripped', '', null)
  store.runs.change(id, { title: 'warm, no LOAD' })
  store.runs.annotate(id, { text: 'brushes sparked', author: 'Ada', timeSec: 0.005 })
  const ids = (filter: Parameters<typeof store.runs.list>[0]) =>
    store.runs.list(filter).map(run => run.id)
  expect(ids({})).toEqual([second.runId, id])
  expect(ids({ limit: 1 })).toEqual([second.runId])
  expect(ids({ motorId: motor.id })).toEqual([id])
  expect(ids({ kind: 'locked-rotor' })).toEqual([second.runId])
  expect(ids({ ending: 'complete' })).toEqual([id])
  for (const text of ['no load', 'SPARKED', 'lot 5', 'sn-77']) expect(ids({ text })).toEqual([id])
  for (const text of ['übung', 'locked']) expect(ids({ text })).toEqual([second.runId])
  expect(ids({ text: 'nothing of the sort' })).toEqual([])
})

test('a run can be renamed, given to another motor and set right', () => {
  const { store, id } = storeWithRun()
  const other = store.motors.add({ name: 'N' })
  const conditions = { ...UNKNOWN_CONDITIONS, windingCelsius: 31 }
  const changes = { title: 'T', kind: 'coast-down' as const, motorId: other.id, conditions }
  expect(store.runs.change(id, changes)).toMatchObject({ ...changes, motorName: 'N' })
  expect(store.runs.change(id, { title: 'U' })).toMatchObject({ ...changes, title: 'U' })
  expect(() => store.runs.change(id, { motorId: 99 })).toThrow('no motor 99')
})

test('annotations stay in order with author, date and place', () => {
  const { store, id } = storeWithRun()
  store.runs.annotate(id, { text: 'first', author: 'Ada', timeSec: 0.001 })
  const run = store.runs.annotate(id, { text: 'second', author: '', timeSec: null })
  expect(run.annotations).toMatchObject([
    { text: 'first', author: 'Ada', timeSec: 0.001 },
    { text: 'second', author: '', timeSec: null },
  ])
  expect(run.annotations[0]!.writtenAt).toMatch(/^2026-03-14T12:/)
  expect(() => store.runs.annotate(id, { text: ' ', author: '', timeSec: null })).toThrow(
    'a note needs some text',
  )
})

test('deleting can be undone; purging gives the space back and cannot', () => {
  const { store, id } = storeWithRun()
  expect(() => store.runs.purge(id)).toThrow('only a deleted run can be purged')
  store.runs.delete(id)
  expect(store.runs.list()).toEqual([])
  expect(store.runs.list({ deleted: true }).map(run => run.id)).toEqual([id])
  expect(store.runs.restore(id).deletedAt).toBeNull()
  expect(store.runs.recording(id).sampleCount).toBe(100)
  store.runs.delete(id)
  store.runs.purge(id)
  expect(() => store.runs.get(id)).toThrow(`no run ${id}`)
})

test('a number is never given to a second run', () => {
  const { store, id, motor } = storeWithRun()
  store.runs.delete(id)
  store.runs.purge(id)
  expect(store.runs.begin(newRun(motor.id)).runId).toBe(id + 1)
})

test('a run that is being logged cannot be deleted', () => {
  const { store, motor } = storeWithRun()
  const { runId } = store.runs.begin(newRun(motor.id))
  expect(() => store.runs.delete(runId)).toThrow('is being logged; stop it before deleting it')
})

test('a run needs a motor that is there', () => {
  const store = scratchStore()
  expect(() => store.runs.begin(newRun(5))).toThrow('no motor 5 in the store')
  expect(store.runs.list()).toEqual([])
})
