import { existsSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { expect, test } from 'vitest'
import { InputFault } from '../../src/base/faults.ts'
import { countBlock, newRun } from '../support/sample-runs.ts'
import { scratchFolder, scratchStore } from '../support/scratch-store.ts'

test('a backup is a whole store, also while a run is being logged', async () => {
  const store = scratchStore()
  const motorId = store.motors.add({ name: 'M' }).id
  const writer = store.runs.begin(newRun(motorId))
  writer.samples(countBlock(0, 1000))
  writer.commit()
  const file = join(scratchFolder(), 'copy.rotorfit')
  const copying = store.backup(file)
  writer.samples(countBlock(1000, 1000))
  writer.commit()
  await copying
  const copy = scratchStore(file)
  expect(copy.motors.list()).toEqual(store.motors.list())
  expect([1000, 2000]).toContain(copy.runs.recording(writer.runId).sampleCount)
  expect(readdirSync(dirname(file)).filter(name => name.includes('unfinished'))).toEqual([])
})

test('an existing file is replaced only when that is asked for', async () => {
  const store = scratchStore()
  const file = join(scratchFolder(), 'copy.rotorfit')
  writeFileSync(file, 'precious')
  await expect(store.backup(file)).rejects.toThrow(InputFault)
  await expect(store.backup(file)).rejects.toThrow(
    'exists already; choose another name, or --force',
  )
  expect(readFileSync(file, 'utf8')).toBe('precious')
  await store.backup(file, { force: true })
  expect(scratchStore(file).motors.list()).toEqual([])
})

test('the store is never copied onto itself', async () => {
  const store = scratchStore()
  await expect(store.backup(store.file, { force: true })).rejects.toThrow('is the store itself')
})

test('a folder that is not there is said, and nothing is left', async () => {
  const store = scratchStore()
  const file = join(scratchFolder(), 'nowhere', 'copy.rotorfit')
  await expect(store.backup(file)).rejects.toThrow('copy.rotorfit')
  expect(existsSync(file)).toBe(false)
})
