import { afterEach, beforeEach, expect, test, vi } from 'vitest'
import type { LogEntry, ToWorker } from '../../server/recorder/messages.ts'
import { recordedRun } from '../../server/recorder/recorded-run.ts'
import type { RecorderHealth } from '../../server/recorder/recorder.ts'
import { WorkFault } from '../../src/base/faults.ts'
import { fakeLine } from '../support/fake-recorder-line.ts'
import { countBlock } from '../support/sample-runs.ts'

beforeEach(() => {
  vi.useFakeTimers({ toFake: ['setTimeout', 'setInterval', 'clearInterval'] })
})
afterEach(() => {
  vi.useRealTimers()
})

/** Blocks of 100 samples take 600 bytes: ten of them reach the limit, twenty fill the queue. */
function setUp(queueLimitBytes = 6000) {
  const line = fakeLine()
  const seen: RecorderHealth[] = []
  const run = recordedRun(line, 7, {
    channels: 3,
    commitMs: 100,
    queueLimitBytes,
    onHealth: health => seen.push(health),
    onFinished: () => {},
  })
  let next = 0
  const push = (blocks: number) => {
    for (let i = 0; i < blocks; i++, next += 100) run.samples(countBlock(next, 100))
  }
  return { line, run, seen, push }
}

const entriesOf = (message: ToWorker | undefined): readonly LogEntry[] =>
  message && 'entries' in message ? message.entries : []

const samplesIn = (message: ToWorker | undefined): number =>
  entriesOf(message).reduce(
    (sum, entry) => sum + (entry.type === 'samples' ? entry.block.sampleCount : 0),
    0,
  )

test('one batch is on its way at a time; what comes meanwhile goes with the next', async () => {
  const { line, push } = setUp()
  push(3)
  expect(line.asked).toHaveLength(1)
  vi.advanceTimersByTime(1000)
  expect(line.asked).toHaveLength(1)
  await line.answer()
  expect(line.asked.map(samplesIn)).toEqual([100, 200])
})

test('batches are no closer together than the time between commits', async () => {
  const { line, push } = setUp()
  push(1)
  await line.answer()
  push(2)
  vi.advanceTimersByTime(99)
  expect(line.asked).toHaveLength(1)
  vi.advanceTimersByTime(1)
  expect(line.asked.map(samplesIn)).toEqual([100, 200])
})

test('many short blocks cross to the worker as one; what does not follow evenly stays apart', async () => {
  const { line, run, push } = setUp()
  push(1)
  for (let first = 100; first < 900; first++) run.samples(countBlock(first, 1))
  run.samples(countBlock(950, 50))
  run.samples({ ...countBlock(1000, 50), startSec: 0.1 + 2e-6 })
  run.edge({ timeSec: 0.11, state: 'coast', setVolt: null })
  run.samples(countBlock(1050, 50, { startSec: 0.105 + 2e-6 }))
  await line.answer()
  vi.advanceTimersByTime(100)
  const blocks = entriesOf(line.asked[1]).flatMap(entry =>
    entry.type === 'samples' ? [entry.block] : [],
  )
  expect(blocks.map(({ firstSequence, sampleCount }) => [firstSequence, sampleCount])).toEqual([
    [100, 800],
    [950, 50],
    [1000, 50],
    [1050, 50],
  ])
  expect([...blocks[0]!.counts]).toEqual([...countBlock(100, 800).counts])
})

test('memory that the worker hands back is filled again; nothing of what stood there comes through', async () => {
  const { line, run } = setUp(1e6)
  let next = 0
  const full = () => {
    // A block grows to 64 KiB and no further: 10 922 samples of three channels.
    for (let end = next + 10_000; next < end; next += 1000) run.samples(countBlock(next, 1000))
  }
  full()
  for (let round = 1; round <= 4; round++) {
    full()
    await line.answer()
    vi.advanceTimersByTime(200)
  }
  const blocks = line.asked.flatMap(entriesOf).flatMap(e => (e.type === 'samples' ? [e.block] : []))
  expect(blocks.reduce((sum, block) => sum + block.sampleCount, 0)).toBe(next)
  for (const block of blocks) {
    expect(block.counts).toEqual(countBlock(block.firstSequence, block.sampleCount).counts)
  }
})

test('the caller may use its array again at once', () => {
  const { line, run } = setUp()
  const block = countBlock(0, 100)
  run.samples(block)
  const first = block.counts[0]
  block.counts.fill(1)
  const [entry] = entriesOf(line.asked[0])
  expect(entry?.type === 'samples' && entry.block.counts[0]).toBe(first)
})

test('a slow disk is said before anything is lost, and forgotten when it has caught up', async () => {
  const { line, seen, push } = setUp()
  push(10)
  expect(seen).toEqual([])
  push(1)
  expect(seen.map(health => health.state)).toEqual(['behind'])
  expect(seen[0]!.text).toBe(
    'the disk is slower than the rig: 0 samples of run 7 are safe, 1100 wait in memory',
  )
  vi.advanceTimersByTime(100)
  await line.answer()
  await line.answer()
  expect(seen.map(health => health.state)).toEqual(['behind', 'keeping-up'])
  expect(seen[1]!.samplesStored).toBe(1100)
})

test('what does not fit is counted, in words and in the run, and logging goes on', async () => {
  const { line, run, seen, push } = setUp()
  push(25)
  expect(seen.map(health => health.state)).toEqual(['behind', 'losing'])
  expect(run.health).toMatchObject({ samplesLost: 500, queuedBytes: 12_000 })
  expect(run.health.text).toContain('2000 wait in memory, 500 are lost')
  vi.advanceTimersByTime(100)
  await line.answer()
  await line.answer()
  push(1)
  vi.advanceTimersByTime(100)
  const entries = entriesOf(line.asked.at(-1))
  expect(line.asked.flatMap(entriesOf).filter(entry => entry.type === 'lost')).toEqual([
    { type: 'lost', samples: 500, where: 'disk' },
  ])
  expect(
    entriesOf(line.asked[1])
      .slice(-2)
      .map(entry => entry.type),
  ).toEqual(['lost', 'note'])
  expect(entries.at(-1)?.type).toBe('samples')
  expect(run.health).toMatchObject({ state: 'keeping-up', samplesLost: 500 })
})

test('notes and edges find room when samples do not', () => {
  const { line, run, push } = setUp()
  push(25)
  run.note(0.1, 'trip', 'over-current')
  run.edge({ timeSec: 0.1, state: 'coast', setVolt: 0 })
  run.rejected('x'.repeat(1000), 'noise')
  void run.finish('tripped', '', null)
  const types = entriesOf(line.asked[1]).map(entry => entry.type)
  expect(types.slice(-5)).toEqual(['lost', 'note', 'note', 'edge', 'note'])
  expect(types).not.toContain('rejected')
  const last = entriesOf(line.asked[1]).at(-1)
  expect(last?.type === 'note' && last.note.text).toContain('1 rejected lines not kept')
})

test('a store that refuses is said with what is safe, tried again, and nothing is lost by it', async () => {
  const { line, run, seen, push } = setUp()
  push(1)
  await line.answer()
  vi.advanceTimersByTime(100)
  push(2)
  await line.refuse('store.rotorfit: the disk is full; free some space')
  expect(run.health).toMatchObject({
    state: 'failed',
    text: 'store.rotorfit: the disk is full; free some space; 100 samples of run 7 are safe, 200 wait in memory',
  })
  push(1)
  vi.advanceTimersByTime(100)
  expect(line.asked.map(samplesIn)).toEqual([100, 100, 200])
  await line.refuse('store.rotorfit: the disk is full; free some space')
  vi.advanceTimersByTime(999)
  expect(line.asked).toHaveLength(3)
  vi.advanceTimersByTime(1)
  expect(line.asked).toHaveLength(4)
  await line.answer()
  expect(run.health).toMatchObject({ state: 'keeping-up', samplesStored: 400, samplesLost: 0 })
  expect(seen.map(health => health.state)).toEqual(['failed', 'keeping-up'])
})

test('a finish that the store refuses says what is safe', async () => {
  const { line, run, push } = setUp()
  push(1)
  await line.answer()
  push(1)
  const finished = run.finish('stopped', '', null)
  const outcome = expect(finished).rejects.toThrow(
    'the disk is full; 100 samples of run 7 are safe, 100 wait in memory',
  )
  await line.refuse('the disk is full')
  await outcome
  await expect(finished).rejects.toBeInstanceOf(WorkFault)
})

test('an idle run shows from time to time that its logger lives', async () => {
  const { line } = setUp()
  vi.advanceTimersByTime(10_000)
  expect(line.asked).toEqual([{ type: 'store', entries: [] }])
  await line.answer()
  vi.advanceTimersByTime(10_000)
  expect(line.asked).toHaveLength(2)
})

test.each([
  ['backwards in time', { startSec: 0.001 }, 'startSec = 0.001; must be after'],
  ['backwards in sequence', { firstSequence: 50 }, 'firstSequence = 50; must be'],
  ['of half a sample', { counts: new Int16Array(299) }, 'counts.length = 299'],
])('a block %s is refused at once, and stores nothing', (_, changes, text) => {
  const { line, run, push } = setUp()
  push(1)
  const block = { ...countBlock(100, 100), ...changes }
  expect(() => run.samples(block)).toThrow(text)
  expect(line.asked.map(samplesIn)).toEqual([100])
})

test('a finished run takes nothing more', () => {
  const { run } = setUp()
  void run.finish('complete', '', null)
  expect(() => run.note(null, 'late', '')).toThrow('run 7 is finished; it takes nothing more')
  return expect(run.finish('complete', '', null)).rejects.toThrow('run 7 is finished already')
})
