import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, onTestFinished, test } from 'vitest'
import { openPseudoTerminal } from '../../server/link/pseudo-terminal.ts'
import { replayBytes } from '../../server/link/replay-link.ts'
import { openSerialLink } from '../../server/link/serial-link.ts'
import type { Link } from '../../server/link/link.ts'
import { openRecorder } from '../../server/recorder/open-recorder.ts'
import type { Recorder } from '../../server/recorder/recorder.ts'
import { logPlain, type PlainLogging } from '../../server/session/plain-log.ts'
import { PlainRows } from '../../server/session/plain-rows.ts'
import { openStore } from '../../server/store/open-store.ts'
import type { Store } from '../../server/store/store.ts'
import { parseColumnMap } from '../../src/contract/csv-columns.ts'
import type { LiveEvent } from '../../src/contract/live.ts'
import { watchRules } from '../../src/procedure/watch.ts'
import { drive, planOf } from '../support/plans.ts'
import { UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'

function rowsOf(map: string): PlainRows {
  const choices = parseColumnMap(map)
  if (!choices.ok) throw new Error(choices.error)
  const rows = PlainRows.of(choices.value)
  if (!rows.ok) throw new Error(rows.error)
  return rows.value
}

const MAP = 'time=#1:s,voltage=#2:V,current=#3:mV/50,speed=#4:rpm'

const folder = mkdtempSync(join(tmpdir(), 'rotorfit-test-'))
const file = join(folder, 'store.rotorfit')
let store: Store
let recorder: Recorder

beforeAll(async () => {
  store = openStore(file, { now: Date.now })
  recorder = await openRecorder({ file })
})
afterAll(async () => {
  await recorder.close()
  store.close()
  rmSync(folder, { recursive: true })
})

/** Logs what comes over the link into a real store and returns what is in it. */
async function logged(link: Link, changes: Partial<PlainLogging> = {}) {
  const motor = store.motors.ensure('plain')
  const run = await recorder.beginRun({
    motorId: motor.id,
    kind: 'free-run',
    origin: 'plain-rig',
    conditions: UNKNOWN_CONDITIONS,
    benchId: null,
    rig: null,
    channels: [],
    rateHz: null,
    plan: null,
    source: link.describe,
  })
  const events: LiveEvent[] = []
  const outcome = await logPlain({
    link,
    rows: rowsOf(MAP),
    run,
    durationSec: null,
    signal: new AbortController().signal,
    emit: event => events.push(event),
    rules: null,
    ...changes,
  })
  return { outcome, events, record: store.runs.get(run.runId) }
}

const line = (k: number) => `${(k / 1000).toFixed(4)},11.98,${50 + k},600\n`
const lines = (from: number, to: number) =>
  Array.from({ length: to - from }, (_, k) => line(from + k)).join('')
const replay = (text: string) => replayBytes(new TextEncoder().encode(text), 333)

test('stores what a rig prints in SI, from the first whole line on', async () => {
  const { outcome, record } = await logged(replay(`98,61,600\n${lines(1000, 2000)}`))
  expect(outcome).toMatchObject({
    ending: 'link-lost',
    counters: { samples: 1000, samplesLost: 0, linesRejected: 0 },
  })
  expect(record).toMatchObject({ ending: 'link-lost', sampleCount: 1000, origin: 'plain-rig' })
  const { timeSec, columns } = store.runs.recording(record.id)
  expect(timeSec!.subarray(0, 2)).toEqual(Float64Array.of(0, 1.001 - 1))
  expect(columns.voltage![0]).toBe(11.98)
  // 50 mV/A and the first row reads 1050 mV; 600 rpm are 20 π rad/s.
  expect(columns.current![0]).toBeCloseTo(21, 12)
  expect(columns.speed![0]).toBeCloseTo(20 * Math.PI, 12)
})

test('finds gaps in time by the rig’s own rhythm and counts what is missing', async () => {
  const text = `x\n${lines(0, 100)}${lines(107, 200)}`
  const { outcome, record } = await logged(replay(text))
  expect(outcome.counters).toMatchObject({ samples: 193, samplesLost: 7 })
  expect(record.losses).toEqual([{ where: 'link', samples: 7 }])
  const [note] = store.runs.diary(record.id).notes
  expect(note).toMatchObject({ code: 'gap', text: expect.stringMatching(/^7 rows/) })
  expect(note!.timeSec).toBeCloseTo(0.107, 12)
})

test('rejects damaged rows with their reason and keeps them as text', async () => {
  const bad = ['0.1000,11.98,5\n', '0.1001,1x.98,50,600\n', '0.0500,11.98,50,600\n', '\u001b[2J\n']
  const text = `x\n${lines(0, 100)}${bad.join('')}${'9'.repeat(5000)}\n${lines(100, 110)}`
  const { outcome, record } = await logged(replay(text))
  expect(outcome.counters).toMatchObject({ samples: 110, linesRejected: 5 })
  const rejected = store.runs.rejectedLines(record.id)
  expect(rejected.map(({ reason }) => reason)).toEqual([
    expect.stringMatching(/3 numbers in the row; must be 4/),
    expect.stringMatching(/column 2: '1x.98' is not a number/),
    expect.stringMatching(/time 0.05 s does not follow 0.099 s/),
    expect.stringMatching(/1 numbers in the row/),
    expect.stringMatching(/no line end/),
  ])
  expect(rejected[3]!.raw).toBe('\\x1B[2J')
})

test('a rig that starts anew ends the run instead of having every row rejected', async () => {
  const { outcome } = await logged(replay(`x\n${lines(0, 500)}${lines(0, 400)}`))
  expect(outcome).toMatchObject({ ending: 'link-lost', counters: { samples: 500 } })
  expect(outcome.text).toMatch(/started anew/)
  expect(outcome.counters.linesRejected).toBeGreaterThanOrEqual(20)
  expect(outcome.counters.linesRejected).toBeLessThan(50)
})

test.each([
  ['semicolons', '0;1;2;3\n0.001;1;2;3\n'],
  ['tabs', '0\t1\t2\t3\n0.001\t1\t2\t3\r\n'],
  ['spaces', ' 0 1  2 3\n0.001 1 2 3 \n'],
  ['a gap', '0,1,,3\n0.001,1,nan,3\n'],
])('reads rows set apart by %s', async (_, text) => {
  const { outcome } = await logged(replay(`x\n${text}`))
  expect(outcome.counters).toMatchObject({ samples: 2, linesRejected: 0 })
})

test('watches what it cannot stop, and says whose hand is needed', async () => {
  const rules = watchRules(planOf([drive(12, 1, 2)]))
  const { events, record } = await logged(replay(`x\n${lines(0, 300)}`), { rules })
  const [trip, more] = events.filter(event => event.type === 'trip')
  expect(trip).toMatchObject({ by: 'host', code: 'over-current' })
  expect(trip!.text).toMatch(/switch its supply off/)
  expect(more).toBeUndefined()
  expect(store.runs.diary(record.id).notes).toContainEqual(
    expect.objectContaining({ code: 'over-current' }),
  )
  expect(record.sampleCount).toBe(300)
})

test('logs from a real serial device for the time asked, and until stopped', async () => {
  const terminal = openPseudoTerminal()
  let k = 0
  const timer = setInterval(() => {
    for (let n = 0; n < 10; n++) terminal.write(new TextEncoder().encode(line(k++)))
  }, 10)
  onTestFinished(() => {
    clearInterval(timer)
    terminal.close()
  })
  const timed = await openSerialLink(terminal.path)
  const first = await logged(timed, { durationSec: 0.4 })
  await timed.close()
  expect(first.outcome.ending).toBe('complete')
  expect(first.record.sampleCount).toBeGreaterThan(150)
  expect(first.events.some(event => event.type === 'envelope')).toBe(true)

  const link = await openSerialLink(terminal.path)
  const abort = new AbortController()
  setTimeout(() => abort.abort(), 200)
  const second = await logged(link, { signal: abort.signal })
  await link.close()
  expect(second.outcome.ending).toBe('stopped')
})

test('names columns by their number only', () => {
  const choices = parseColumnMap('time=t:s,current=#2:A')
  expect(choices.ok && PlainRows.of(choices.value)).toMatchObject({
    ok: false,
    error: expect.stringMatching(/column 't'.*write #1, #2/),
  })
})
