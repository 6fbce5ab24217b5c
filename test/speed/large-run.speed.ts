import { mkdtempSync, rmSync, statSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { answer } from '../../server/http/answers/answer-table.ts'
import { createLibrary } from '../../server/http/answers/create-library.ts'
import { openStore } from '../../server/store/open-store.ts'
import { countBlock, newRun, THREE_CHANNELS } from '../support/sample-runs.ts'
import { type SpeedRow, spentOn } from './section.ts'

const SAMPLES = 1e7
const BLOCK_SAMPLES = 100
const COMMIT_SAMPLES = 1000
const POINTS = 1200
const OPENING_MS = 300

/** A long run of three channels, stored as a recorder stores it: its size, and how soon it is seen. */
export async function measure(): Promise<SpeedRow[]> {
  const folder = mkdtempSync(join(tmpdir(), 'rotorfit-speed-'))
  try {
    const file = join(folder, 'store.rotorfit')
    const store = openStore(file, { now: Date.now })
    const motorId = store.motors.add({ name: 'M' }).id
    const emptyBytes = statSync(file).size
    const writer = store.runs.begin(newRun(motorId))
    for (let first = 0; first < SAMPLES; first += BLOCK_SAMPLES) {
      writer.samples(countBlock(first, BLOCK_SAMPLES))
      if (first % COMMIT_SAMPLES === 0) writer.commit()
    }
    writer.finish('complete', '', null)
    store.close()
    return [space(statSync(file).size - emptyBytes), ...(await sight(file, writer.runId))]
  } finally {
    rmSync(folder, { recursive: true })
  }
}

function space(storedBytes: number): SpeedRow {
  const rawBytes = 2 * THREE_CHANNELS.length
  return {
    what: `stored for a sample of three channels, run of ${SAMPLES.toExponential()}`,
    value: storedBytes / SAMPLES,
    unit: 'bytes',
    against: `${rawBytes} bytes of raw counts`,
    ratio: storedBytes / SAMPLES / rawBytes,
    goal: { most: 1.15 },
  }
}

/** From a closed store to the first points; then as the page asks, for everything that it shows of a run. */
async function sight(file: string, runId: number): Promise<SpeedRow[]> {
  const rows: SpeedRow[] = []
  const timed = async (what: string, work: () => unknown) => {
    const { elapsedSec, busiestSec } = await spentOn(work)
    const row = (unit: string, sec: number) => ({
      what,
      value: 1000 * sec,
      unit,
      against: `${OPENING_MS} ms`,
      ratio: (1000 * sec) / OPENING_MS,
    })
    // Of the processor, for other programs take no part in it; what elapsed is told beside it.
    rows.push({ ...row('CPU ms', busiestSec), goal: { most: 1 } }, row('ms elapsed', elapsedSec))
  }
  let store = openStore(file, { now: Date.now })
  const [from, to] = [0, store.runs.get(runId).durationSec!]
  store.close()
  await timed(`store opened, ${POINTS} points of each channel of the run`, () => {
    store = openStore(file, { now: Date.now })
    for (const { quantity } of THREE_CHANNELS)
      store.runs.overview(runId, quantity, from, to, POINTS)
  })
  const library = createLibrary(store)
  await timed('the page of the run, as HTTP answers it', () =>
    answer(library, 'runPage', { run: runId, points: POINTS }),
  )
  await timed('zoom to a thousandth', () =>
    store.runs.overview(runId, 'current', to / 2, to / 2 + to / 1000, POINTS),
  )
  store.close()
  return rows
}
