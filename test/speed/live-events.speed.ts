import { mkdtempSync, rmSync } from 'node:fs'
import { request } from 'node:http'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { createBenchDesk } from '../../server/http/bench-desk.ts'
import type { Link } from '../../server/link/link.ts'
import { startPracticeRig } from '../../server/rig-host/start-practice-rig.ts'
import type { BenchSession } from '../../server/session/bench-session.ts'
import { connectBench } from '../../server/session/connect.ts'
import { openStore } from '../../server/store/open-store.ts'
import { API_ROOT } from '../../src/contract/http-paths.ts'
import type { PageEvent } from '../../src/contract/page-event.ts'
import { startTestServer, type TestServer } from '../http/support/test-server.ts'
import { coast, drive, planOf, requestOf } from '../support/plans.ts'
import { practiceMotor } from '../support/practice.ts'
import type { SpeedRow } from './section.ts'

const RATE_HZ = 10_000
const TEST_SEC = 9
const MOST_MS = 100
/** Rig and computer are compared by the quickest exchange this close to an event. */
const NEAR_MS = 1000

/**
 * From the moment of a sample, by the rig's clock, to the event in a page's stream that shows it: practice
 * rig, pseudo-terminal, serial port, session, recorder and HTTP as they are served. The clocks of rig and
 * computer are tied by the keep-alive's answers, to half the time that those take. Where other programs keep
 * every core busy this measures their turns: give it priority then (`chrt -r 20 npm run speed live-events`).
 */
export async function measure(seed: number): Promise<SpeedRow[]> {
  const folder = mkdtempSync(join(tmpdir(), 'rotorfit-speed-'))
  const store = openStore(join(folder, 'store.rotorfit'), { now: Date.now })
  const rig = await startPracticeRig({
    via: 'pseudo-terminal',
    motor: practiceMotor('dormouse-12'),
    seed,
    linkPath: null,
  })
  const clock = new RigClock()
  let session: BenchSession | null = null
  const bench = createBenchDesk({
    store,
    knownPort: null,
    openWay: async () => ({
      open: async () => clock.overhearing(await rig.open()),
      hands: rig,
      close: () => rig.close(),
    }),
    connect: async options => {
      session = await connectBench(options)
      return session
    },
    now: Date.now,
  })
  const server = await startTestServer(store, bench)
  try {
    const arrivals: Arrival[] = []
    const stream = await openStream(server, arrivals)
    await bench.connect('practice')
    const plan = planOf([coast(0.5), drive(6, TEST_SEC - 1), coast(0.5)], { rateHz: RATE_HZ })
    const motor = store.motors.ensure('Dormouse 12')
    const { counters, ending } = await session!.run({ ...requestOf(plan), motor })
    if (ending !== 'complete' || counters.samplesLost > 0) {
      throw new Error(`the run is ${ending}, ${counters.samplesLost} samples were lost`)
    }
    await stream.ended
    return rowsOf(delays(arrivals, clock))
  } finally {
    await server.close()
    await bench.close()
    store.close()
    rmSync(folder, { recursive: true })
  }
}

interface Arrival {
  readonly atMs: number
  readonly fromSec: number
  readonly toSec: number
}

/** A page's event stream; keeps the envelopes of runs as they arrive. */
async function openStream(server: TestServer, arrivals: Arrival[]) {
  let end: () => void = () => {}
  const ended = new Promise<void>(resolve => {
    end = resolve
  })
  const take = (event: PageEvent, atMs: number) => {
    if (event.type !== 'live') return
    const { event: live } = event
    if (live.type === 'envelope' && live.runId !== null) arrivals.push({ ...live, atMs })
    if (live.type === 'run-ended') end()
  }
  await new Promise<void>((resolve, reject) => {
    const address = `${server.origin}${API_ROOT}/events`
    const events = request(address, { headers: { cookie: server.cookie } }, response => {
      let text = ''
      response.setEncoding('utf8').on('data', (piece: string) => {
        const atMs = performance.now()
        const frames = (text + piece).split('\n\n')
        text = frames.pop()!
        for (const frame of frames) {
          if (frame.startsWith('data: ')) take(JSON.parse(frame.slice(6)) as PageEvent, atMs)
        }
        resolve()
      })
      response.on('error', () => {})
    })
    events.on('error', reject).end()
  })
  return { ended }
}

/** Ties the rig's clock to this computer's by what passes on the line. */
class RigClock {
  /** Rig time of the first sample of the stream that was started last. */
  zeroUs: number | null = null
  readonly #asked = new Map<string, number>()
  readonly #ties: { atMs: number; rigUs: number; tripMs: number }[] = []
  #held = ''

  overhearing(link: Link): Link {
    const clock = this
    return {
      describe: link.describe,
      async *bytes(signal) {
        for await (const chunk of link.bytes(signal)) {
          clock.#hear(Buffer.from(chunk).toString('latin1'))
          yield chunk
        }
      },
      send: bytes => {
        const [, id, rest] = /^Q (\d+) (.*)/.exec(Buffer.from(bytes).toString('latin1')) ?? []
        if (rest?.startsWith('alive')) this.#asked.set(id!, performance.now())
        if (rest?.startsWith('stream mode=on')) this.zeroUs = null
        return link.send(bytes)
      },
      close: () => link.close(),
    }
  }

  /** When something happened at a moment of the rig's, by `performance.now()`, as of that time. */
  hostMs(rigUs: number, aboutMs: number): number {
    const near = this.#ties.filter(tie => Math.abs(tie.atMs - aboutMs) < NEAR_MS)
    const best = near.reduce((a, b) => (b.tripMs < a.tripMs ? b : a))
    return best.atMs + (rigUs - best.rigUs) / 1000
  }

  get medianTripMs(): number {
    const trips = this.#ties.map(tie => tie.tripMs).sort((a, b) => a - b)
    return trips[Math.floor(trips.length / 2)]!
  }

  #hear(text: string): void {
    const nowMs = performance.now()
    const lines = (this.#held + text).split('\n')
    this.#held = lines.pop()!
    for (const line of lines) {
      const [, id, rigUs] = /^A (\d+) OK time-us=(\d+)/.exec(line) ?? []
      const askedMs = id === undefined ? undefined : this.#asked.get(id)
      if (askedMs !== undefined) {
        const tripMs = nowMs - askedMs
        this.#ties.push({ atMs: askedMs + tripMs / 2, rigUs: Number(rigUs), tripMs })
        this.#asked.delete(id!)
      }
      this.zeroUs ??= Number(/^[BS] \d+ (\d+)/.exec(line)?.[1] ?? Number.NaN)
      if (Number.isNaN(this.zeroUs)) this.zeroUs = null
    }
  }
}

/** Of every sample, ms. */
function delays(arrivals: readonly Arrival[], clock: RigClock): Float64Array {
  const all: number[] = []
  for (const { atMs, fromSec, toSec } of arrivals) {
    const fromMs = clock.hostMs(clock.zeroUs! + fromSec * 1e6, atMs)
    const samples = Math.round((toSec - fromSec) * RATE_HZ) + 1
    for (let i = 0; i < samples; i++) all.push(atMs - (fromMs + (i / RATE_HZ) * 1000))
  }
  if (all.length < 0.95 * TEST_SEC * RATE_HZ)
    throw new Error(`${all.length} samples were seen only`)
  process.stderr.write(`  clocks tied by answers after ${clock.medianTripMs.toFixed(1)} ms\n`)
  return Float64Array.from(all).sort()
}

function rowsOf(sorted: Float64Array): SpeedRow[] {
  return [0.5, 0.95, 0.99].map(share => {
    const ms = sorted[Math.floor(share * (sorted.length - 1))]!
    return {
      what: `sample to the page's event at ${RATE_HZ} samples/s, ${100 * share} % of the samples within`,
      value: ms,
      unit: 'ms',
      against: `${MOST_MS} ms`,
      ratio: ms / MOST_MS,
      ...(share === 0.95 && { goal: { most: 1 } }),
    }
  })
}
