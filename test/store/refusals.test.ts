import { chmodSync, existsSync, mkdirSync } from 'node:fs'
import { dirname, join } from 'node:path'
import type { Database } from 'better-sqlite3'
import { describe, expect, onTestFinished, test, vi } from 'vitest'
import { openStore } from '../../server/store/open-store.ts'
import { InputFault, WorkFault } from '../../src/base/faults.ts'
import { countBlock, newImport, newRun } from '../support/sample-runs.ts'
import {
  scratchFile,
  scratchFolder,
  scratchStore,
  steppingClock,
} from '../support/scratch-store.ts'

/** Every database that was opened, so that a disk can be made small. */
const { opened } = vi.hoisted(() => ({ opened: [] as Database[] }))
vi.mock('../../server/store/sqlite.ts', async importOriginal => {
  const real = await importOriginal<typeof import('../../server/store/sqlite.ts')>()
  const openDatabase: typeof real.openDatabase = (...args) => {
    opened.push(real.openDatabase(...args))
    return opened.at(-1)!
  }
  return { ...real, openDatabase }
})

function caught(work: () => unknown): unknown {
  try {
    work()
  } catch (error) {
    return error
  }
  return null
}

/** Runs as a user whom permissions bind: root may write everywhere. */
function asNobody<T>(work: () => T): T {
  const isRoot = process.geteuid?.() === 0
  if (isRoot) process.seteuid?.(65_534)
  try {
    return work()
  } finally {
    if (isRoot) process.seteuid?.(0)
  }
}

function protectedStore(fileMode: number, folderMode: number): string {
  const folder = join(scratchFolder(), 'inner')
  mkdirSync(folder)
  chmodSync(dirname(folder), 0o777)
  const file = join(folder, 'store.rotorfit')
  const store = openStore(file, { now: steppingClock() })
  store.motors.add({ name: 'kept' })
  store.close()
  chmodSync(file, fileMode)
  chmodSync(folder, folderMode)
  onTestFinished(() => chmodSync(folder, 0o777))
  return file
}

describe.skipIf(process.platform === 'win32')('permissions', () => {
  test('a read-only file can be read, and says what it needs to be written', () => {
    const file = protectedStore(0o444, 0o777)
    asNobody(() => {
      const store = openStore(file, { now: steppingClock() })
      expect(store.motors.list()).toHaveLength(1)
      const error = caught(() => store.motors.add({ name: 'M' }))
      store.close()
      expect(error).toBeInstanceOf(WorkFault)
      expect((error as Error).message).toBe(
        `${file}: it may only be read; give yourself write permission to the file and its folder`,
      )
    })
  })

  test('a read-only folder is said', () => {
    const file = protectedStore(0o444, 0o555)
    const error = caught(() => asNobody(() => openStore(file, { now: steppingClock() })))
    expect(error).toBeInstanceOf(WorkFault)
    expect((error as Error).message).toMatch(/may only be read|check that its folder exists/)
  })

  test('a new store where nothing may be written is said', () => {
    const folder = dirname(protectedStore(0o444, 0o555))
    const file = join(folder, 'new.rotorfit')
    const error = caught(() => asNobody(() => openStore(file, { now: steppingClock() })))
    expect(error).toBeInstanceOf(WorkFault)
    expect((error as Error).message).toContain(
      'check that its folder exists and that you may write',
    )
    expect(existsSync(file)).toBe(false)
  })
})

test('a folder that is not there is not made', () => {
  const folder = join(scratchFolder(), 'mistyped')
  const file = join(folder, 'store.rotorfit')
  const error = caught(() => openStore(file, { now: steppingClock() }))
  expect(error).toBeInstanceOf(InputFault)
  expect((error as Error).message).toBe(
    `${file}: there is no folder ${folder}; make it or choose another file`,
  )
  expect(existsSync(folder)).toBe(false)
})

test('opening to read does not make a file', () => {
  const file = scratchFile()
  const attempt = () => openStore(file, { now: steppingClock(), readOnly: true })
  expect(attempt).toThrow('there is no such file; choose another with --db')
  expect(existsSync(file)).toBe(false)
})

test('a store opened to read refuses to write', () => {
  const file = scratchFile()
  scratchStore(file).motors.add({ name: 'M' })
  const store = scratchStore(file, { now: steppingClock(), readOnly: true })
  expect(store.readOnly).toBe(true)
  expect(store.motors.list()).toHaveLength(1)
  expect(caught(() => store.motors.add({ name: 'N' }))).toBeInstanceOf(WorkFault)
})

describe('while another program writes', () => {
  function lockedStore() {
    const file = scratchFile()
    const store = scratchStore(file, { now: steppingClock(), busyMs: 20 })
    const motorId = store.motors.add({ name: 'M' }).id
    scratchStore(file)
    const other = opened.at(-1)!
    other.exec('BEGIN IMMEDIATE')
    return { file, store, other, motorId }
  }

  test('reading goes on and writing says so', () => {
    const { store, file } = lockedStore()
    expect(store.motors.list()).toHaveLength(1)
    const error = caught(() => store.motors.add({ name: 'N' }))
    expect(error).toBeInstanceOf(WorkFault)
    expect((error as Error).message).toBe(
      `${file}: another program is writing to it and did not finish in time; close that or try again`,
    )
  })

  test('a commit that was refused loses nothing when it is tried again', () => {
    const { store, other, motorId } = lockedStore()
    other.exec('ROLLBACK')
    const writer = store.runs.begin(newRun(motorId))
    writer.samples(countBlock(0, 500))
    writer.commit()
    other.exec('BEGIN IMMEDIATE')
    writer.samples(countBlock(500, 500))
    writer.note({ timeSec: null, code: 'step', text: 'two' })
    expect(caught(() => writer.commit())).toBeInstanceOf(WorkFault)
    writer.samples(countBlock(1000, 70_000))
    expect(caught(() => writer.commit())).toBeInstanceOf(WorkFault)
    other.exec('ROLLBACK')
    writer.commit()
    expect(store.runs.recording(writer.runId).sampleCount).toBe(71_000)
    writer.finish('complete', '', null)
    const { timeSec } = store.runs.recording(writer.runId)
    expect(timeSec!.every((time, i) => Math.abs(time - i * 1e-4) < 1e-9)).toBe(true)
    expect(store.runs.diary(writer.runId).notes).toHaveLength(1)
  })
})

describe('on a full disk', () => {
  /** A store on a disk with room for so many more pages of 4096 bytes. */
  function smallDisk(pages: number) {
    const file = scratchFile()
    const store = scratchStore(file)
    const motorId = store.motors.add({ name: 'M' }).id
    const db = opened.at(-1)!
    const used = Number(db.pragma('page_count', { simple: true }))
    db.pragma(`max_page_count = ${used + pages}`)
    const free = () => db.pragma('max_page_count = 1000000')
    return { file, store, motorId, free }
  }

  test('what was committed is safe, the rest is tried again when there is room', () => {
    const { file, store, motorId, free } = smallDisk(40)
    const writer = store.runs.begin(newRun(motorId))
    let committed = 0
    let error: unknown = null
    for (let first = 0; error === null && first < 1e6; first += 1000) {
      writer.samples(countBlock(first, 1000))
      error = caught(() => writer.commit())
      if (error === null) committed += 1000
    }
    expect(error).toBeInstanceOf(WorkFault)
    expect((error as Error).message).toBe(`${file}: the disk is full; free some space`)
    expect(committed).toBeGreaterThan(5000)
    expect(store.runs.recording(writer.runId).sampleCount).toBe(committed)
    writer.samples(countBlock(committed + 1000, 100_000))
    expect(caught(() => writer.finish('stopped', '', null))).toBeInstanceOf(WorkFault)
    expect(store.runs.get(writer.runId).ending).toBe('open')
    free()
    writer.finish('stopped', 'the disk was full', null)
    expect(store.runs.recording(writer.runId).sampleCount).toBe(committed + 101_000)
  })

  test('an import that does not fit leaves nothing', async () => {
    const { store, motorId } = smallDisk(300)
    const voltage = new Float64Array(100_000).map(Math.random)
    const pieces = [0, 1, 2].map(() => ({ timeSec: null, columns: { voltage }, bridge: null }))
    const importing = store.runs.importColumns(newImport(motorId), pieces)
    await expect(importing).rejects.toThrow('the disk is full; free some space')
    expect(store.runs.list()).toEqual([])
    expect(caught(() => store.runs.get(1))).toBeInstanceOf(InputFault)
  })
})
