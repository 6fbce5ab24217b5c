import { networkInterfaces } from 'node:os'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Store } from '../../server/store/store.ts'
import { API_ROOT, PAGE_HEADER } from '../../src/contract/http-paths.ts'
import { type StoreFolder, storeFolder, testStore } from './support/practice-store.ts'
import { stillBench } from './support/still-bench.ts'
import { startTestServer, type TestServer } from './support/test-server.ts'

/** An address of this machine that is not loopback: what comes by it counts as from elsewhere. */
const outside = Object.values(networkInterfaces())
  .flatMap(list => list ?? [])
  .find(one => !one.internal && one.family === 'IPv4')?.address

if (!outside)
  console.warn('this machine has no address but loopback: the remote view was not tried')

/** Every address of the machine, and one of them alone. */
const HOSTS = ['0.0.0.0', outside ?? '']

describe.skipIf(!outside).each(HOSTS)('from another machine, served at %s', host => {
  let folder: StoreFolder
  let store: Store
  let server: TestServer
  const bench = stillBench()
  const at = (path: string) => `http://${outside}:${server.server.port}${path}`

  beforeAll(async () => {
    folder = storeFolder()
    store = testStore(folder.file)
    store.motors.add({ name: 'secret prototype' })
    server = await startTestServer(store, bench, {
      host,
      password: 'correct horse battery',
    })
  })
  afterAll(async () => {
    await server.close()
    store.close()
    folder.remove()
  })

  const login = (password: string) =>
    fetch(at(`${API_ROOT}/login`), {
      method: 'POST',
      headers: { [PAGE_HEADER]: '1', 'content-type': 'application/json' },
      body: JSON.stringify({ password }),
    })

  test('nothing is shown before the password', async () => {
    for (const path of ['/motors', '/bench', '/events', '/runs/1']) {
      const answer = await fetch(at(API_ROOT + path))
      expect(answer.status).toBe(401)
      expect(await answer.text()).not.toContain('secret prototype')
    }
    const session = await (await fetch(at(`${API_ROOT}/session`))).json()
    expect(session).toMatchObject({ role: 'stranger', database: null, remote: true })
  })

  test('a wrong password costs waiting, more each time, and says nothing', async () => {
    expect((await login('wrong one')).status).toBe(401)
    expect((await login('wrong two')).status).toBe(429)
    // Even the right one has to wait: guessing in parallel gains nothing.
    expect((await login('correct horse battery')).status).toBe(429)
  })

  test('with the password one may look, and no more', async () => {
    await expect.poll(async () => (await login('correct horse battery')).status).toBe(200)
    await new Promise(resolve => setTimeout(resolve, 20))
    const cookie = (await login('correct horse battery')).headers.get('set-cookie')!.split(';')[0]!
    const headers = { cookie, [PAGE_HEADER]: '1' }
    const motors = await fetch(at(`${API_ROOT}/motors`), { headers })
    expect(await motors.text()).toContain('secret prototype')
    for (const path of ['/bench/stop', '/bench/connect', '/motors', '/control']) {
      const answer = await fetch(at(API_ROOT + path), { method: 'POST', headers })
      expect(answer.status).toBe(403)
      expect(await answer.text()).toContain('from another machine')
    }
    expect(bench.calls).toEqual([])
  })

  test("the operator's cookie, token and entry address are worth nothing there", async () => {
    const withCookie = await fetch(at(`${API_ROOT}/session`), {
      headers: { cookie: server.cookie },
    })
    expect(await withCookie.json()).toMatchObject({ role: 'stranger' })
    const withToken = await fetch(at(`${API_ROOT}/session`), {
      headers: { authorization: `Bearer ${server.server.access.commandToken}` },
    })
    expect(await withToken.json()).toMatchObject({ role: 'stranger' })
    const path = new URL(server.server.entryUrl()).pathname
    const entered = await fetch(at(path), { redirect: 'manual' })
    expect(entered.headers.get('set-cookie')).toBeNull()
    // And it was not used up by the attempt.
    expect(new URL(server.server.entryUrl()).pathname).toBe(path)
  })

  test('who sits at this machine drives all the same, by its loopback address', async () => {
    const entered = await server.fetch(`${API_ROOT}/session`)
    expect(await entered.json()).toMatchObject({ role: 'operator', remote: false })
    const local = await fetch(`http://127.0.0.1:${server.server.port}${API_ROOT}/session`)
    expect(await local.json()).toMatchObject({ role: 'viewer', remote: false })
  })
})
