import { statSync } from 'node:fs'
import { expect, test } from 'vitest'
import { openStore } from '../../server/store/open-store.ts'
import { seededUniform } from '../../src/base/random.ts'
import { countBlock, newRun } from '../support/sample-runs.ts'
import { scratchFile, steppingClock } from '../support/scratch-store.ts'

/** Bytes of the store's file before and after logging, and of the raw counts. */
function logged(samples: number, blockSamples: number, startOf: (sequence: number) => number) {
  const file = scratchFile()
  const store = openStore(file, { now: steppingClock() })
  const motorId = store.motors.add({ name: 'M' }).id
  store.close()
  const before = statSync(file).size
  const again = openStore(file, { now: steppingClock() })
  const writer = again.runs.begin(newRun(motorId))
  for (let first = 0; first < samples; first += blockSamples) {
    writer.samples({ ...countBlock(first, blockSamples), startSec: startOf(first) })
    if (first % (blockSamples * 10) === 0) writer.commit()
  }
  writer.finish('complete', '', null)
  again.close()
  return { file, stored: statSync(file).size - before, raw: samples * 6, runId: writer.runId }
}

const even = (sequence: number) => sequence * 1e-4

const uniform = seededUniform(8)
const drifting = (sequence: number) => sequence * 1.0003e-4 + uniform() * 2e-6

test.each([
  ['evenly stamped', even],
  ['with a drifting, trembling clock', drifting],
] as const)('a logged run, %s, takes at most 1.15 bytes a byte of counts', (_, startOf) => {
  const { stored, raw } = logged(348_000, 116, startOf)
  expect(stored / raw).toBeLessThanOrEqual(1.15)
  expect(stored / raw).toBeGreaterThan(1)
})

test('purging a run makes the file smaller', () => {
  const { file, stored, raw, runId } = logged(116_000, 116, even)
  const full = statSync(file).size
  const store = openStore(file, { now: steppingClock() })
  store.runs.delete(runId)
  store.runs.purge(runId)
  store.close()
  expect(stored).toBeGreaterThan(raw)
  expect(full - statSync(file).size).toBeGreaterThan(0.95 * raw)
})
