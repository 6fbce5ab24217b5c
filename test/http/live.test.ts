import { request, type ClientRequest } from 'node:http'
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest'
import type { Store } from '../../server/store/store.ts'
import { API_ROOT, STREAM_HEADER } from '../../src/contract/http-paths.ts'
import type { PageEvent } from '../../src/contract/page-event.ts'
import { type StoreFolder, storeFolder, testStore } from './support/practice-store.ts'
import { stillBench, type StillBench } from './support/still-bench.ts'
import { startTestServer, type TestServer } from './support/test-server.ts'

let folder: StoreFolder
let store: Store
let server: TestServer
let bench: StillBench

beforeAll(() => {
  folder = storeFolder()
  store = testStore(folder.file)
})
beforeEach(async () => {
  bench = stillBench()
  server = await startTestServer(store, bench)
  return () => server.close()
})
afterAll(() => {
  store.close()
  folder.remove()
})

interface Stream {
  readonly name: string
  readonly events: PageEvent[]
  /** Resolves with the first event, past or future, that fits. */
  until(fits: (event: PageEvent) => boolean): Promise<PageEvent>
  close(): void
}

/** One page's event stream. */
function openStream(): Promise<Stream> {
  const events: PageEvent[] = []
  const waiting = new Set<() => void>()
  const { outgoing } = readEvents(event => {
    events.push(event)
    for (const wake of waiting) wake()
  })
  const until: Stream['until'] = fits =>
    new Promise(resolve => {
      const wake = () => {
        const found = events.find(fits)
        if (!found) return
        waiting.delete(wake)
        resolve(found)
      }
      waiting.add(wake)
      wake()
    })
  return until(event => event.type === 'hello').then(hello => ({
    name: (hello as Extract<PageEvent, { type: 'hello' }>).stream,
    events,
    until,
    close: () => outgoing.destroy(),
  }))
}

function readEvents(take: (event: PageEvent) => void): { outgoing: ClientRequest } {
  const outgoing = request(
    `${server.origin}${API_ROOT}/events`,
    { headers: { cookie: server.cookie } },
    response => {
      let text = ''
      response.setEncoding('utf8')
      response.on('error', () => {})
      response.on('data', piece => {
        text += piece
        const frames = text.split('\n\n')
        text = frames.pop()!
        for (const frame of frames) {
          if (frame.startsWith('data: ')) take(JSON.parse(frame.slice(6)) as PageEvent)
        }
      })
    },
  )
  outgoing.on('error', () => {})
  outgoing.end()
  return { outgoing }
}

const post = (path: string, stream: string, body: unknown = undefined) =>
  server.fetch(API_ROOT + path, {
    method: 'POST',
    headers: { [STREAM_HEADER]: stream, 'content-type': 'application/json' },
    ...(body === undefined ? {} : { body: JSON.stringify(body) }),
  })

const running = {
  runId: 1,
  kind: 'locked-rotor',
  motorId: 1,
  motor: 'sample',
  startedAtMs: 0,
  currentLimitAmp: 3,
  durationSec: 2,
} as const

describe('driving', () => {
  test('needs a live stream: closing it is what stops the motor', async () => {
    const answer = await post('/bench/connect', 'made-up', { port: 'practice' })
    expect(answer.status).toBe(409)
    expect(bench.calls).toEqual([])
  })

  test('falls to the first page that asks, and the others look on', async () => {
    const one = await openStream()
    const two = await openStream()
    expect((await post('/bench/connect', one.name, { port: 'practice' })).status).toBe(200)
    const refused = await post('/bench/disconnect', two.name)
    expect(refused.status).toBe(409)
    expect(await refused.text()).toContain('another page drives')
    expect(bench.calls).toEqual(['connect practice'])
    await two.until(event => event.type === 'bench' && event.bench.driver === one.name)
    one.close()
    two.close()
  })

  test('can be taken over while nothing runs, not during a test', async () => {
    const one = await openStream()
    const two = await openStream()
    await post('/control', one.name, {})
    expect((await post('/control', two.name, {})).status).toBe(409)
    bench.set({ running })
    expect((await post('/control', two.name, { takeOver: true })).status).toBe(409)
    bench.set({ running: null })
    expect((await post('/control', two.name, { takeOver: true })).status).toBe(200)
    expect((await post('/bench/disconnect', one.name)).status).toBe(409)
    one.close()
    two.close()
  })

  test('ends with the stream: a closed page stops the motor', async () => {
    const one = await openStream()
    await post('/control', one.name, {})
    bench.set({ running })
    one.close()
    await expect.poll(() => bench.calls).toEqual(['stop: the page that drove the bench was closed'])
  })

  test('a page that only looks on may close without consequence', async () => {
    const one = await openStream()
    const two = await openStream()
    await post('/control', one.name, {})
    bench.set({ running })
    two.close()
    await one.until(event => event.type === 'bench')
    await new Promise(resolve => setTimeout(resolve, 50))
    expect(bench.calls).toEqual([])
    one.close()
  })

  test('anyone who may change things may stop, whoever drives', async () => {
    const one = await openStream()
    await post('/control', one.name, {})
    expect((await post('/bench/stop', '')).status).toBe(200)
    expect(bench.calls).toEqual(['stop: the operator pressed stop on the page'])
    one.close()
  })
})

test('of many pages of one browser the oldest rest, the one that drives never', async () => {
  const driver = await openStream()
  await post('/control', driver.name, {})
  const others = []
  // Browsers keep six connections to a host (common practice, no source): two stay free.
  for (let n = 0; n < 5; n++) others.push(await openStream())
  await others[0]!.until(event => event.type === 'rest')
  await others[1]!.until(event => event.type === 'rest')
  bench.set({ running })
  for (const awake of [driver, ...others.slice(2)]) {
    await awake.until(event => event.type === 'bench' && event.bench.running !== null)
    expect(awake.events.some(event => event.type === 'rest')).toBe(false)
    expect((awake.events.at(-1) as { bench: { driver: string } }).bench.driver).toBe(driver.name)
  }
  expect(bench.calls).toEqual([])
  for (const stream of [driver, ...others]) stream.close()
})

describe('a page that reads too slowly', () => {
  test('misses live readings, is told how many, and misses nothing else', async () => {
    const events: PageEvent[] = []
    const { outgoing } = readEvents(event => events.push(event))
    const response = await new Promise<import('node:http').IncomingMessage>(resolve =>
      outgoing.on('response', resolve),
    )
    await expect.poll(() => events.length).toBe(1)
    response.pause()
    const sent = 40_000
    for (let n = 0; n < sent; n++) {
      const channels = [{ quantity: 'current', low: n, mean: n, high: n }] as const
      bench.tell({
        type: 'live',
        event: { type: 'envelope', runId: null, fromSec: n, toSec: n + 1, channels },
      })
      // The kernel takes what it can, as on a real connection.
      if (n % 500 === 0) await new Promise(resolve => setImmediate(resolve))
    }
    bench.set({ text: 'still here' })
    response.resume()
    await expect
      .poll(() => events.some(event => event.type === 'bench' && event.bench.text === 'still here'))
      .toBe(true)
    const missed = events.flatMap(event => (event.type === 'missed' ? [event.count] : []))
    const got = events.filter(event => event.type === 'live').length
    expect(missed.length).toBeGreaterThan(0)
    expect(got + missed.reduce((sum, n) => sum + n, 0)).toBe(sent)
    outgoing.destroy()
  })
})

test('a stream is never silent for long: whoever hears nothing knows that nobody is there', async () => {
  const one = await openStream()
  await one.until(event => event.type === 'beat')
  one.close()
})

test('closing the server ends open streams at once', async () => {
  const one = await openStream()
  const ended = new Promise(resolve => {
    const timer = setInterval(() => {
      if (one.events.length > 0) {
        clearInterval(timer)
        resolve(null)
      }
    }, 10)
  })
  await ended
  const before = performance.now()
  await server.server.close()
  expect(performance.now() - before).toBeLessThan(2000)
})
