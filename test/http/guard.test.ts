import { request } from 'node:http'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { hostAllowed, isLoopback } from '../../server/http/addresses.ts'
import type { Store } from '../../server/store/store.ts'
import { API_ROOT, PAGE_HEADER } from '../../src/contract/http-paths.ts'
import { type StoreFolder, storeFolder, testStore } from './support/practice-store.ts'
import { stillBench } from './support/still-bench.ts'
import { startTestServer, type TestServer } from './support/test-server.ts'

let folder: StoreFolder
let store: Store
let server: TestServer
const bench = stillBench()

beforeAll(async () => {
  folder = storeFolder()
  store = testStore(folder.file)
  server = await startTestServer(store, bench)
})
afterAll(async () => {
  await server.close()
  store.close()
  folder.remove()
})

/** A request with whatever headers an attacker's page or tool may cause, `fetch` would refuse some. */
function raw(
  path: string,
  headers: Record<string, string>,
  method = 'GET',
  body = '',
): Promise<{ status: number; text: string; headers: NodeJS.Dict<string | string[]> }> {
  return new Promise((resolve, reject) => {
    const outgoing = request(
      { host: '127.0.0.1', port: server.server.port, path, method, headers },
      response => {
        let text = ''
        response.on('data', piece => {
          text += piece
        })
        response.on('end', () =>
          resolve({ status: response.statusCode ?? 0, text, headers: response.headers }),
        )
      },
    )
    outgoing.on('error', reject)
    outgoing.end(body)
  })
}

const stop = `${API_ROOT}/bench/stop`
const own = () => ({ host: `127.0.0.1:${server.server.port}`, cookie: server.cookie })

describe('a foreign page', () => {
  test('that has its own name pointed at this machine is not answered', async () => {
    const answer = await raw('/', { host: `evil.example:${server.server.port}` })
    expect(answer.status).toBe(421)
    expect(answer.text).toContain('printed at its start')
  })

  test('cannot change anything by a form: the header is missing', async () => {
    const answer = await raw(stop, own(), 'POST')
    expect(answer.status).toBe(403)
    expect(answer.text).toContain(PAGE_HEADER)
  })

  test.each(['http://evil.example', 'null', 'https://127.0.0.1', 'http://127.0.0.1:1'])(
    'with the origin %s is refused even with our header',
    async origin => {
      const answer = await raw(stop, { ...own(), origin, [PAGE_HEADER]: '1' }, 'POST')
      expect(answer.status).toBe(403)
    },
  )

  test.each(['cross-site', 'same-site'])('of a %s fetch is refused', async site => {
    const headers = { ...own(), 'sec-fetch-site': site, [PAGE_HEADER]: '1' }
    expect((await raw(stop, headers, 'POST')).status).toBe(403)
  })

  test('is told nothing by a preflight that would let it send our header', async () => {
    const answer = await raw(
      stop,
      {
        ...own(),
        origin: 'http://evil.example',
        'access-control-request-method': 'POST',
        'access-control-request-headers': PAGE_HEADER,
      },
      'OPTIONS',
    )
    expect(answer.status).toBe(403)
    expect(answer.headers['access-control-allow-origin']).toBeUndefined()
    expect(answer.headers['access-control-allow-headers']).toBeUndefined()
  })

  test('the bench heard of none of this', () => expect(bench.calls).toEqual([]))
})

describe('a local program without the address printed at start', () => {
  test('may look', async () => {
    const answer = await fetch(`${server.origin}${API_ROOT}/motors`)
    expect(answer.status).toBe(200)
  })

  test.each([
    ['POST', '/bench/stop'],
    ['POST', '/motors'],
    ['DELETE', '/motors/1'],
    ['POST', '/bench/connect'],
    ['POST', '/bench/test'],
    ['POST', '/bench/sequence'],
    ['POST', '/imports?name=x.csv'],
  ])('may not %s %s', async (method, path) => {
    const answer = await fetch(server.origin + API_ROOT + path, {
      method,
      headers: { [PAGE_HEADER]: '1' },
    })
    expect(answer.status).toBe(403)
    expect(await answer.text()).toContain('printed at its start')
  })
})

describe('the address printed at start', () => {
  test('works once, and another takes its place', async () => {
    const first = server.server.entryUrl()
    const entered = await fetch(first, { redirect: 'manual' })
    expect(entered.headers.get('set-cookie')).toMatch(
      /^rotorfit-\d+=[\w-]{32}; Path=\/; HttpOnly; SameSite=Strict$/,
    )
    const again = await fetch(first, { redirect: 'manual' })
    expect(again.headers.get('set-cookie')).toBeNull()
    expect(again.headers.get('location')).toBe('/entry-used')
    expect(server.server.entryUrl()).not.toBe(first)
    expect(server.said.at(-1)).toContain(server.server.entryUrl())
  })

  test('makes its browser the operator', async () => {
    const answer = await server.fetch(`${API_ROOT}/session`)
    expect(await answer.json()).toMatchObject({ role: 'operator', remote: false })
  })

  test("so does the command line's token, with the header", async () => {
    const answer = await fetch(`${server.origin}${API_ROOT}/session`, {
      headers: { authorization: `Bearer ${server.server.access.commandToken}` },
    })
    expect(await answer.json()).toMatchObject({ role: 'operator' })
  })

  test('a made-up cookie does not', async () => {
    const answer = await fetch(`${server.origin}${API_ROOT}/session`, {
      headers: { cookie: server.cookie.replace(/=.*/, '=abcdefghijklmnopqrstuvwxyz012345') },
    })
    expect(await answer.json()).toMatchObject({ role: 'viewer' })
  })
})

describe('every answer', () => {
  test('forbids scripts, frames and connections from elsewhere', async () => {
    for (const path of ['/', `${API_ROOT}/motors`, `${API_ROOT}/nothing`]) {
      const { headers } = await server.fetch(path)
      const policy = headers.get('content-security-policy') ?? ''
      expect(policy).toContain("default-src 'none'")
      expect(policy).not.toContain('unsafe')
      expect(policy).toContain("frame-ancestors 'none'")
      expect(headers.get('x-content-type-options')).toBe('nosniff')
      expect(headers.get('access-control-allow-origin')).toBeNull()
    }
  })

  test('to a body that is too large is one line', async () => {
    const answer = await server.fetch(`${API_ROOT}/motors`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ name: 'x', notes: 'y'.repeat(400_000) }),
    })
    expect(answer.status).toBe(413)
  })

  test('to a body that is no JSON is one line without a stack', async () => {
    const answer = await server.fetch(`${API_ROOT}/motors`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: '{"name":',
    })
    expect(answer.status).toBe(400)
    expect(await answer.text()).not.toContain('at ')
  })

  test.each([
    '/../package.json',
    '/..%2f..%2fpackage.json',
    '/assets/..%2f..%2f..%2fpackage.json',
    '/assets/%2e%2e/%2e%2e/package.json',
    '/%2e%2e/%2e%2e/etc/passwd',
    '/assets/..\\..\\package.json',
  ])('to the path %s stays inside the page', async path => {
    const answer = await raw(path, own())
    expect(answer.text).not.toContain('"devDependencies"')
    expect(answer.text).not.toContain('root:')
  })
})

test.each([
  ['127.0.0.1:8080', true, '127.0.0.1', true],
  ['localhost:8080', true, '127.0.0.1', true],
  ['[::1]:8080', true, '::1', true],
  ['127.0.0.1:9090', true, '127.0.0.1', false],
  ['127.0.0.1', true, '127.0.0.1', false],
  ['localhost.evil.example:8080', true, '127.0.0.1', false],
  ['', true, '127.0.0.1', false],
  ['bench-pc:8080', false, '127.0.0.1', false],
  ['192.168.1.5:8080', false, '0.0.0.0', true],
  ['evil.example:8080', false, '0.0.0.0', false],
  ['localhost:8080', false, '0.0.0.0', false],
  ['bench-pc:8080', false, 'bench-pc', true],
  ['user@127.0.0.1:8080', true, '127.0.0.1', false],
])('Host %s (local: %s) on a server at %s: %s', (header, local, served, allowed) => {
  expect(hostAllowed(header, local, 8080, served)).toBe(allowed)
})

test.each([
  ['127.0.0.1', true],
  ['127.3.4.5', true],
  ['::1', true],
  ['::ffff:127.0.0.1', true],
  ['128.0.0.1', false],
  ['127.0.0.1.example', false],
  ['10.0.0.127', false],
  ['::ffff:10.0.0.1', false],
  [undefined, false],
])('%s is this machine: %s', (address, expected) => expect(isLoopback(address)).toBe(expected))
