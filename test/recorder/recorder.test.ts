import { monitorEventLoopDelay } from 'node:perf_hooks'
import { statSync, writeFileSync } from 'node:fs'
import { setTimeout as sleep } from 'node:timers/promises'
import { expect, onTestFinished, test } from 'vitest'
import { openRecorder } from '../../server/recorder/open-recorder.ts'
import type { RecorderHealth } from '../../server/recorder/recorder.ts'
import { openDatabase } from '../../server/store/sqlite.ts'
import type { RunFacts } from '../../server/session/run-log.ts'
import { InputFault } from '../../src/base/faults.ts'
import { UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import { countAt, countBlock, newRun, THREE_CHANNELS } from '../support/sample-runs.ts'
import { scratchFile, scratchStore } from '../support/scratch-store.ts'

async function setUp(onHealth: (health: RecorderHealth) => void = () => {}) {
  const file = scratchFile()
  const store = scratchStore(file)
  const motorId = store.motors.add({ name: 'M' }).id
  const recorder = await openRecorder({ file, onHealth })
  onTestFinished(() => recorder.close())
  return { file, store, motorId, recorder }
}

const facts = (motorId: number): RunFacts => ({
  motorId,
  plan: {
    kind: 'coast-down',
    rateHz: 10_000,
    steps: [],
    shaft: 'free',
    conditions: { ...UNKNOWN_CONDITIONS, ambientCelsius: 21 },
    expectedPeakAmp: null,
    expectedRiseKelvin: null,
  },
  rig: {
    model: 'Rig',
    serialNumber: 'R-1',
    firmware: '1.0',
    protocolVersion: '1.0',
    simulated: true,
    channels: THREE_CHANNELS,
    ratesHz: [10_000],
    limits: {
      driveVolt: 24,
      currentAmp: 10,
      busVolt: null,
      speedRadPerSec: null,
      stallSec: null,
      longestDriveSec: 5,
      watchdogSec: 0.3,
    },
    reversible: true,
    pwmHz: 20_000,
    busVolt: 24,
    burst: null,
  },
})

test('what a session hands over is in the store when the run is finished', async () => {
  const { store, motorId, recorder } = await setUp()
  const log = await recorder.begin(facts(motorId))
  for (let first = 0; first < 20_000; first += 100) {
    log.samples(countBlock(first, 100))
    if (first % 5000 === 0) await sleep(5)
  }
  log.edge({ timeSec: 0.5, state: 'coast', setVolt: null })
  log.note(0.6, 'step', 'second')
  log.rejected('garbage', 'checksum')
  const counters = { samples: 20_000, samplesLost: 0, linesRejected: 1, bytes: 1 }
  await log.finish('complete', 'done', counters)
  const run = store.runs.get(log.runId)
  expect(run).toMatchObject({
    kind: 'coast-down',
    origin: 'rig',
    ending: 'complete',
    sampleCount: 20_000,
    rejectedLines: 1,
    counters,
    rig: { serialNumber: 'R-1', simulated: true },
    channels: THREE_CHANNELS,
    conditions: { ambientCelsius: 21 },
    losses: [],
  })
  const { voltage } = store.runs.recording(log.runId).columns
  expect(voltage!.every((value, i) => value === 1e-3 * countAt(i, 0))).toBe(true)
  expect(store.runs.diary(log.runId)).toMatchObject({
    edges: [{ timeSec: 0.5 }],
    notes: [{ code: 'step' }],
  })
})

test('samples can be read while the run goes on', async () => {
  const { store, motorId, recorder } = await setUp()
  const log = await recorder.begin(facts(motorId))
  log.samples(countBlock(0, 100))
  await expect.poll(() => store.runs.get(log.runId).sampleCount).toBe(100)
  expect(store.runs.get(log.runId).ending).toBe('open')
  // The disk has them before the worker's word of it is here.
  await expect
    .poll(() => recorder.current?.health)
    .toMatchObject({ state: 'keeping-up', samplesStored: 100 })
})

test('what is committed reaches the store\u2019s own pages while the run goes on', async () => {
  const { file, motorId, recorder } = await setUp()
  const log = await recorder.begin(facts(motorId))
  const before = statSync(file).size
  log.samples(countBlock(0, 20_000))
  await expect
    .poll(() => statSync(file).size, { timeout: 10_000 })
    .toBeGreaterThan(before + 120_000)
})

test('rows in SI of a rig that only prints numbers are stored as they are', async () => {
  const { store, motorId, recorder } = await setUp()
  const run = await recorder.beginRun(newRun(motorId, { origin: 'plain-rig', channels: [] }))
  const timeSec = Float64Array.of(0, 0.1, 0.25)
  const voltage = Float64Array.of(1, 2, Number.NaN)
  run.columns({ timeSec, columns: { voltage }, bridge: null })
  await run.finish('complete', '', null)
  expect(voltage).toHaveLength(3)
  expect(store.runs.recording(run.runId)).toMatchObject({ timeSec, columns: { voltage } })
})

test('closed while a run is being finished, it lets the run have its own end', async () => {
  const { store, motorId, recorder } = await setUp()
  const run = await recorder.begin(facts(motorId))
  const counters = { samples: 0, samplesLost: 0, linesRejected: 0, bytes: 0 }
  const finishing = run.finish('stopped', 'stopped by the operator', counters)
  await recorder.close()
  await finishing
  expect(store.runs.get(run.runId)).toMatchObject({ endingText: 'stopped by the operator' })
})

test('one run at a time; the next when that is finished', async () => {
  const { motorId, recorder, store } = await setUp()
  const first = await recorder.begin(facts(motorId))
  await expect(recorder.begin(facts(motorId))).rejects.toThrow('is still being recorded')
  await first.finish('complete', '', { samples: 0, samplesLost: 0, linesRejected: 0, bytes: 0 })
  expect(recorder.current).toBeNull()
  const second = await recorder.begin(facts(motorId))
  expect(second.runId).toBe(first.runId + 1)
  await recorder.close()
  expect(store.runs.get(second.runId)).toMatchObject({
    ending: 'stopped',
    endingText: 'the recorder was closed during the run',
  })
})

test('a store that is none is refused with the store\u2019s own words', async () => {
  const file = scratchFile()
  writeFileSync(file, 'no database at all '.repeat(100))
  const opening = openRecorder({ file })
  await expect(opening).rejects.toBeInstanceOf(InputFault)
  await expect(opening).rejects.toThrow('is not a rotorfit store')
})

test('a motor that is not there is refused, and the recorder goes on', async () => {
  const { motorId, recorder } = await setUp()
  await expect(recorder.begin(facts(99))).rejects.toThrow('no motor 99 in the store')
  expect((await recorder.begin(facts(motorId))).runId).toBe(1)
})

test('while another program holds the store, the main thread does not wait and nothing is lost', async () => {
  const { file, store, motorId, recorder } = await setUp()
  const log = await recorder.begin(facts(motorId))
  const other = openDatabase(file, {})
  onTestFinished(() => {
    other.close()
  })
  other.exec('BEGIN IMMEDIATE')
  const delay = monitorEventLoopDelay({ resolution: 5 })
  delay.enable()
  for (let first = 0; first < 5000; first += 100) {
    log.samples(countBlock(first, 100))
    await sleep(10)
  }
  delay.disable()
  // The disk was held for half a second; the loop must not have felt it.
  expect(delay.percentile(99) / 1e6).toBeLessThan(50)
  expect(store.runs.get(log.runId).sampleCount).toBe(0)
  other.exec('ROLLBACK')
  await log.finish('complete', '', { samples: 5000, samplesLost: 0, linesRejected: 0, bytes: 0 })
  expect(store.runs.get(log.runId)).toMatchObject({ sampleCount: 5000, losses: [] })
})
