import { once } from 'node:events'
import { expect, onTestFinished, test } from 'vitest'
import { openDatabase } from '../../server/store/sqlite.ts'
import { seededUniform } from '../../src/base/random.ts'
import { killRecording, startRecording } from '../support/kill-recording.ts'
import { countAt } from '../support/sample-runs.ts'
import { scratchFile, scratchStore } from '../support/scratch-store.ts'

const uniform = seededUniform(2026)
const moments = Array.from({ length: 3 }, () => Math.round(20 + 1000 * uniform()))

test.each(moments)(
  'killed after %s ms: the store opens clean, all but 250 ms is there',
  async ms => {
    const file = scratchFile()
    const { store, handedOver, stored, missingMs } = await killRecording(file, ms)
    onTestFinished(() => store.close())
    expect(handedOver).toBeGreaterThan(0)
    expect(missingMs).toBeLessThanOrEqual(250)
    expect(store.interrupted).toEqual([1])
    expect(store.runs.get(1)).toMatchObject({ ending: 'interrupted', losses: [] })
    const { columns, timeSec } = store.runs.recording(1)
    const wrong = Array.from({ length: stored }, (_, i) => i).filter(
      i => columns.voltage![i] !== 1e-3 * countAt(i, 0) || Math.abs(timeSec![i]! - i * 1e-4) > 1e-9,
    )
    expect(wrong).toEqual([])
    const db = openDatabase(file, { readonly: true })
    expect(db.pragma('integrity_check', { simple: true })).toBe('ok')
    expect(db.pragma('foreign_key_check')).toEqual([])
    db.close()
  },
)

test('a run that another process is logging is left alone when the store is opened', async () => {
  const file = scratchFile()
  const logger = startRecording(file)
  await logger.begun
  const store = scratchStore(file, { now: Date.now })
  expect(store.interrupted).toEqual([])
  expect(store.runs.list()).toMatchObject([{ ending: 'open' }])
  await expect.poll(() => store.runs.get(1).sampleCount).toBeGreaterThan(1000)
  logger.process.kill('SIGKILL')
  await once(logger.process, 'close')
  expect(scratchStore(file, { now: Date.now }).interrupted).toEqual([1])
})
