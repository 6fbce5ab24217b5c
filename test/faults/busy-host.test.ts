import { type ChildProcess, fork } from 'node:child_process'
import { once } from 'node:events'
import { readFileSync } from 'node:fs'
import { request } from 'node:http'
import { beforeAll, expect, onTestFinished, test } from 'vitest'
import { PAGE_HEADER, STREAM_HEADER } from '../../src/contract/http-paths.ts'
import type { JobView } from '../../src/contract/http-motors.ts'
import type { PageEvent } from '../../src/contract/page-event.ts'
import {
  identifyInStore,
  logPracticeSuite,
  type StoreFolder,
  storeFolder,
  testStore,
} from '../http/support/practice-store.ts'
import { startRig } from '../support/bench-at-work.ts'

/** The program that serves, as a process of its own, asked for everything while it drives a motor. */

const MOST_HELD_MS = 50
/** Stopped when everything else is done. */
const DRIVEN_SEC = 300
const IMPORTED_ROWS = 50_000

let folder: StoreFolder
let motorId: number
beforeAll(async () => {
  folder = storeFolder()
  const store = testStore(folder.file)
  await logPracticeSuite(store, 'dormouse-12', 'Dormouse 12', { rateHz: 1000 })
  identifyInStore(store, 'Dormouse 12')
  motorId = store.motors.named('Dormouse 12').id
  store.close()
  return () => folder.remove()
})

test('a fit, an import, reports and overviews hold the loop that keeps the rig alive for less than 50 ms', {
  retry: 1,
  timeout: 60_000,
}, async () => {
  const rig = await startRig()
  const host = await serving(rig.path!)
  await host.post('/bench/connect', { port: rig.path })
  const ended = host.until(event => event.type === 'run-ended')
  const driving = host.until(event => event.type === 'envelope' && event.runId !== null)
  await host.post('/bench/test', {
    motor: motorId,
    kind: 'free-run',
    voltageVolt: 6,
    durationSec: DRIVEN_SEC,
  })
  await driving
  await host.loopDelay()
  await Promise.all([
    host.post(`/motors/${motorId}/fits`, {}).then(host.job),
    host
      .post('/imports?name=long.csv', longRecording())
      .then(({ id }) => host.post(`/imports/${id}/accept`, { motor: 'Long', kind: 'free-run' }))
      .then(host.job),
    host.get(`/motors/${motorId}/sheet/pdf`),
    host.get('/runs/1/series?points=4000'),
  ])
  const { heldMs, turns } = await host.loopDelay()
  await host.post('/bench/stop', {})
  await ended
  expect(turns).toBeGreaterThan(50)
  expect(heldMs).toBeLessThan(MOST_HELD_MS)
})

type Live = Extract<PageEvent, { type: 'live' }>['event']

/** Rows of a turning motor, made once. */
let recording = ''
function longRecording(): string {
  if (recording !== '') return recording
  const rows = ['time [s],voltage [V],current [A],speed [rad/s]']
  for (let i = 0; i < IMPORTED_ROWS; i++) {
    rows.push(`${(i / 10_000).toFixed(4)},6,${(0.05 + 0.001 * Math.sin(i)).toFixed(5)},390.1`)
  }
  recording = `${rows.join('\n')}\n`
  return recording
}

interface ServingHost {
  post(path: string, body: unknown): Promise<{ id: string }>
  get(path: string): Promise<void>
  /** Waits until a job has ended well. */
  job(job: { id: string }): Promise<void>
  until(fits: (event: Live) => boolean): Promise<Live>
  /** The longest for which the main thread held its loop since this was last asked for. */
  loopDelay(): Promise<{ heldMs: number; turns: number }>
}

async function serving(port: string): Promise<ServingHost> {
  const main = new URL('../../server/main.ts', import.meta.url).pathname
  const probe = new URL('../support/loop-delay-probe.mjs', import.meta.url).href
  const words = ['serve', '--port', port, '--http-port', '0', '--db', folder.file]
  const host = fork(main, words, { execArgv: ['--import', 'tsx', '--import', probe], silent: true })
  onTestFinished(() => ended(host))
  let out = ''
  host.stdout!.on('data', (text: Buffer) => {
    out += text.toString()
  })
  await expect.poll(() => out, { timeout: 30_000 }).toContain('http://')
  const { port: httpPort } = new URL(/http:\/\/\S+/.exec(out)![0])
  const { address, token } = JSON.parse(readFileSync(`${folder.file}.serve-${httpPort}`, 'utf8'))
  const headers = { authorization: `Bearer ${token}`, [PAGE_HEADER]: '1' }

  const listeners = new Set<(event: Live) => void>()
  const stream = await new Promise<string>(resolve => {
    const events = request(`${address}/events`, { headers }, response => {
      let text = ''
      response.on('error', () => {})
      response.setEncoding('utf8').on('data', (piece: string) => {
        const frames = (text + piece).split('\n\n')
        text = frames.pop()!
        for (const frame of frames.filter(each => each.startsWith('data: '))) {
          const event = JSON.parse(frame.slice(6)) as PageEvent
          if (event.type === 'hello') resolve(event.stream)
          if (event.type !== 'live') continue
          for (const listener of listeners) listener(event.event)
        }
      })
    })
    events.on('error', () => {})
    events.end()
    onTestFinished(() => void events.destroy())
  })
  const call = async (path: string, init: RequestInit) => {
    const answer = await fetch(address + path, init)
    if (!answer.ok) throw new Error(`${path}: ${await answer.text()}`)
    return answer
  }
  const get = (path: string) => call(path, { headers })
  return {
    post: async (path, body) => {
      const isFile = typeof body === 'string'
      const answer = await call(path, {
        method: 'POST',
        headers: {
          ...headers,
          [STREAM_HEADER]: stream,
          'content-type': isFile ? 'application/octet-stream' : 'application/json',
        },
        body: isFile ? body : JSON.stringify(body),
      })
      return (await answer.json()) as { id: string }
    },
    get: async path => {
      await (await get(path)).arrayBuffer()
    },
    job: async ({ id }) => {
      for (;;) {
        const job = (await (await get(`/jobs/${id}`)).json()) as JobView
        if (job.state === 'done') return
        if (job.state !== 'working') throw new Error(`${job.kind}: ${job.text}`)
        await new Promise(resolve => setTimeout(resolve, 50))
      }
    },
    until: fits =>
      new Promise(resolve => {
        listeners.add(event => {
          if (fits(event)) resolve(event)
        })
      }),
    loopDelay: async () => {
      host.send('delay')
      const [answer] = await once(host, 'message')
      return answer as { heldMs: number; turns: number }
    },
  }
}

async function ended(host: ChildProcess): Promise<void> {
  if (host.exitCode !== null) return
  host.kill('SIGTERM')
  await once(host, 'exit')
}
