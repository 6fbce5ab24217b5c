import { request } from 'node:http'
import { join } from 'node:path'
import { expect, onTestFinished, test } from 'vitest'
import { runCommandLine } from '../../server/commands/command-line.ts'
import { createBenchDesk } from '../../server/http/bench-desk.ts'
import type { PracticeRig } from '../../server/rig-host/start-practice-rig.ts'
import { connectBench } from '../../server/session/connect.ts'
import type { Store } from '../../server/store/store.ts'
import { API_ROOT, STREAM_HEADER } from '../../src/contract/http-paths.ts'
import type { PageEvent } from '../../src/contract/page-event.ts'
import { startTestServer } from '../http/support/test-server.ts'
import { startRig } from '../support/bench-at-work.ts'
import { IN_REAL_TIME } from '../support/plans.ts'
import { scratchFile, scratchStore } from '../support/scratch-store.ts'

/** Every way in which a person stops a motor, through a pseudo-terminal, by the rig's own clock. */

const HOST_STOP_SEC = 0.1
const STOP_AFTER_SEC = 0.8

/** Within 100 ms of the newest sample that was known when somebody stopped, the bridge was off. */
function expectOffInTime(store: Store, stoppedSec: number): void {
  const [run] = store.runs.list()
  expect(run!.ending).toBe('stopped')
  const { edges } = store.runs.diary(run!.id)
  const off = edges.findLast(edge => edge.state !== 'drive')!
  expect(edges.some(edge => edge.state === 'drive' && edge.timeSec < stoppedSec)).toBe(true)
  expect(off.timeSec).toBeGreaterThan(stoppedSec)
  expect(off.timeSec - stoppedSec).toBeLessThan(HOST_STOP_SEC)
}

test.each(['a key', 'an interrupt'] as const)(
  '%s at the terminal opens the bridge within 100 ms',
  IN_REAL_TIME,
  async how => {
    const rig = await startRig()
    const file = scratchFile()
    const interrupt = new AbortController()
    const testSec = 4
    let press = () => {}
    let stoppedSec = Number.NaN
    let said = ''
    const arguments_ = `log --port ${rig.path} --motor M --test free-run --voltage 6 --duration ${testSec}`
    const code = await runCommandLine([...arguments_.split(' '), '--db', file], {
      out: () => {},
      say: line => {
        said += `${line}\n`
      },
      progress: (fraction, text) => {
        const totalSec = Number(/of ([\d.]+) s/.exec(text)?.[1])
        if (fraction * totalSec < STOP_AFTER_SEC || !Number.isNaN(stoppedSec)) return
        // The total is shown rounded to 0.1 s: what that may take off is taken off below.
        stoppedSec = fraction * totalSec
        if (how === 'a key') press()
        else interrupt.abort()
      },
      env: {},
      interactive: how === 'a key',
      ask: () => Promise.reject(new Error('nobody to ask')),
      onKey: listener => {
        press = listener
        return () => {}
      },
      interrupted: interrupt.signal,
    })
    expect(said).toContain(how === 'a key' ? 'stopped by a key' : 'stopped')
    expect(code).toBe(3)
    expectOffInTime(scratchStore(file), stoppedSec - 0.05 * (stoppedSec / testSec))
  },
)

test.each(['its stop button', 'being closed'] as const)(
  'the page stops the motor by %s within 100 ms',
  IN_REAL_TIME,
  async how => {
    const rig = await startRig()
    const { store, page } = await servedPage(rig)
    let stoppedSec = Number.NaN
    const ended = page.until(event => {
      if (event.type !== 'envelope' || event.runId === null) return event.type === 'run-ended'
      if (event.toSec < STOP_AFTER_SEC || !Number.isNaN(stoppedSec)) return false
      stoppedSec = event.toSec
      if (how === 'being closed') page.close()
      else void page.post('/bench/stop')
      return false
    })
    await page.post('/bench/connect', { port: 'practice' })
    const motor = store.motors.ensure('M').id
    await page.post('/bench/test', { motor, kind: 'free-run', voltageVolt: 6, durationSec: 4 })
    if (how === 'its stop button') await ended
    await expect.poll(() => store.runs.list()[0]?.ending, { timeout: 3000 }).not.toBe('open')
    expectOffInTime(store, stoppedSec)
  },
)

/** The real server and bench on a rig behind a pseudo-terminal, and a page's stream and requests. */
async function servedPage(rig: PracticeRig) {
  const store = scratchStore(join(scratchFile(), '..', 'page.rotorfit'), { now: Date.now })
  const bench = createBenchDesk({
    store,
    knownPort: null,
    openWay: async () => ({ open: () => rig.open(), hands: rig, close: async () => {} }),
    connect: connectBench,
    now: Date.now,
  })
  const server = await startTestServer(store, bench)
  onTestFinished(async () => {
    await server.close()
    await bench.close()
  })
  type Live = Extract<PageEvent, { type: 'live' }>['event']
  let listener: (event: Live) => boolean = () => false
  let settle: () => void = () => {}
  let name: (stream: string) => void = () => {}
  const named = new Promise<string>(resolve => {
    name = resolve
  })
  const events = request(
    `${server.origin}${API_ROOT}/events`,
    { headers: { cookie: server.cookie } },
    response => {
      let text = ''
      response.on('error', () => {})
      response.setEncoding('utf8').on('data', (piece: string) => {
        const frames = (text + piece).split('\n\n')
        text = frames.pop()!
        for (const frame of frames.filter(each => each.startsWith('data: '))) {
          const event = JSON.parse(frame.slice(6)) as PageEvent
          if (event.type === 'hello') name(event.stream)
          if (event.type === 'live' && listener(event.event)) settle()
        }
      })
    },
  )
  events.on('error', () => {})
  events.end()
  const stream = await named
  return {
    store,
    page: {
      until: (fits: (event: Live) => boolean) =>
        new Promise<void>(resolve => {
          listener = fits
          settle = resolve
        }),
      post: async (path: string, body?: unknown) => {
        const answer = await server.fetch(API_ROOT + path, {
          method: 'POST',
          headers: { [STREAM_HEADER]: stream, 'content-type': 'application/json' },
          ...(body !== undefined && { body: JSON.stringify(body) }),
        })
        expect(answer.status, `${path}: ${await answer.clone().text()}`).toBe(200)
      },
      close: () => events.destroy(),
    },
  }
}
