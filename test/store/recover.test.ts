import { spawnSync } from 'node:child_process'
import type { Database } from 'better-sqlite3'
import { expect, onTestFinished, test } from 'vitest'
import { openStore } from '../../server/store/open-store.ts'
import { isAlive, ownIdentity, SILENT_AFTER_MS } from '../../server/store/process-identity.ts'
import type { RunOrigin } from '../../server/store/run-record.ts'
import { openDatabase } from '../../server/store/sqlite.ts'
import { countBlock, newImport, newRun } from '../support/sample-runs.ts'
import { scratchFile, scratchStore } from '../support/scratch-store.ts'

const NOON = Date.UTC(2026, 2, 14, 12)
const now = () => NOON

/** A number that no process has: one that has just ended. */
const deadProcess = (): number => spawnSync(process.execPath, ['--version']).pid

/** A run that was being logged (or imported) in 3 commits when its writer vanished. */
function leftOpen(origin: RunOrigin, writer: Record<string, string | number | null>): string {
  const file = scratchFile()
  const store = openStore(file, { now })
  const motorId = store.motors.add({ name: 'M' }).id
  if (origin === 'import') {
    store.runs
      .begin(newImport(motorId))
      .columns({ timeSec: null, columns: { voltage: Float64Array.of(1) }, bridge: null })
  } else {
    const log = store.runs.begin(newRun(motorId))
    for (let i = 0; i < 3; i++) {
      log.samples(countBlock(i * 1000, 900))
      log.commit()
    }
  }
  store.close()
  const db: Database = openDatabase(file, {})
  const changes = Object.keys(writer).map(column => `${column} = @${column}`)
  if (changes.length > 0) db.prepare(`UPDATE open_runs SET ${changes}`).run(writer)
  db.close()
  return file
}

test('a run whose logger has died is interrupted, with all its samples', () => {
  const file = leftOpen('rig', { process_id: deadProcess() })
  const store = scratchStore(file, { now })
  expect(store.interrupted).toEqual([1])
  expect(store.runs.get(1)).toMatchObject({
    ending: 'interrupted',
    endingText: 'the logger ended without closing the run; 2700 samples (0.290 s) are safe',
    sampleCount: 2700,
    losses: [{ where: 'link', samples: 200 }],
  })
  const { timeSec } = store.runs.recording(1)
  expect(timeSec![2699]).toBeCloseTo(0.2899, 9)
  expect(store.runs.gaps(1).map(gap => gap.missing)).toEqual([100, 100])
  expect(openStore(file, { now }).interrupted).toEqual([])
})

test('its small chunks are merged', () => {
  const file = leftOpen('rig', { process_id: deadProcess() })
  scratchStore(file, { now })
  const db = openDatabase(file, {})
  onTestFinished(() => {
    db.close()
  })
  expect(db.prepare('SELECT first_sample, sample_count FROM chunks').all()).toEqual([
    { first_sample: 0, sample_count: 2700 },
  ])
})

test('a run whose logger lives is left alone', () => {
  const store = scratchStore(leftOpen('rig', {}), { now })
  expect(store.interrupted).toEqual([])
  expect(store.runs.get(1).ending).toBe('open')
})

test('an import whose process has died goes as if it had never begun', () => {
  const store = scratchStore(leftOpen('import', { process_id: deadProcess() }), { now })
  expect(store.interrupted).toEqual([])
  expect(() => store.runs.get(1)).toThrow('no run 1')
})

test('a store opened to read changes nothing', () => {
  const file = leftOpen('rig', { process_id: deadProcess() })
  const store = scratchStore(file, { now, readOnly: true })
  expect(store.runs.get(1).ending).toBe('open')
})

const own = ownIdentity()
const elsewhere = { ...own, place: 'another host' }

const writers = [
  { name: 'this process', writer: own, silentMs: 1e9, alive: own.processStart !== null },
  {
    name: 'a process that ended',
    writer: { ...own, processId: deadProcess() },
    silentMs: 0,
    alive: false,
  },
  { name: 'another host, heard of lately', writer: elsewhere, silentMs: 5000, alive: true },
  {
    name: 'another host, silent for long',
    writer: elsewhere,
    silentMs: SILENT_AFTER_MS,
    alive: false,
  },
  {
    name: 'a system that tells no start, heard of lately',
    writer: { ...own, processStart: null },
    silentMs: 5000,
    alive: true,
  },
  {
    name: 'a system that tells no start, silent for long',
    writer: { ...own, processStart: null },
    silentMs: SILENT_AFTER_MS,
    alive: false,
  },
]

test.each(writers)('$name: alive $alive', ({ writer, silentMs, alive }) => {
  expect(isAlive(writer, NOON - silentMs, NOON)).toBe(alive)
})

test.runIf(process.platform === 'linux')('a number that was given again is another process', () => {
  expect(isAlive({ ...own, processStart: '1' }, NOON, NOON)).toBe(false)
})
