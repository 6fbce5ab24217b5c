import { afterAll, beforeAll, expect, test } from 'vitest'
import type { Store } from '../../server/store/store.ts'
import { ENDPOINTS } from '../../src/contract/http.ts'
import { API_ROOT, type EndpointName, fillPath, PATHS } from '../../src/contract/http-paths.ts'
import { type StoreFolder, storeFolder, testStore } from './support/practice-store.ts'
import { stillBench } from './support/still-bench.ts'
import { startTestServer, type TestServer } from './support/test-server.ts'

interface Document {
  openapi: string
  servers: { url: string }[]
  paths: Record<
    string,
    Record<
      string,
      {
        operationId: string
        parameters?: { name: string; in: string; required: boolean; schema: unknown }[]
        requestBody?: { content: Record<string, unknown> }
        responses: Record<string, { content?: Record<string, { schema: unknown }> }>
      }
    >
  >
}

let folder: StoreFolder
let store: Store
let server: TestServer
let document: Document

beforeAll(async () => {
  folder = storeFolder()
  store = testStore(folder.file)
  server = await startTestServer(store, stillBench())
  document = (await (await fetch(`${server.origin}${API_ROOT}/openapi.json`)).json()) as Document
})
afterAll(async () => {
  await server.close()
  store.close()
  folder.remove()
})

test('is OpenAPI 3.1, at a stable address that needs no cookie', () => {
  expect(document.openapi).toMatch(/^3\.1\./)
  expect(document.servers).toEqual([{ url: '/api/v1' }])
})

const operations = () =>
  Object.entries(document.paths).flatMap(([path, methods]) =>
    Object.entries(methods).map(([method, operation]) => ({ path, method, operation })),
  )

test('describes each endpoint of the contract once, and nothing else', () => {
  expect(
    operations()
      .map(({ operation }) => operation.operationId)
      .sort(),
  ).toEqual(Object.keys(PATHS).sort())
})

test('every path parameter in an address is described, and none besides', () => {
  for (const { path, operation } of operations()) {
    const named = [...path.matchAll(/\{(\w+)\}/g)].map(match => match[1])
    const described = (operation.parameters ?? []).filter(one => one.in === 'path')
    expect(described.map(one => one.name)).toEqual(named)
    expect(described.every(one => one.required)).toBe(true)
  }
})

test('every success has a body that is described, or none at all', () => {
  for (const { operation } of operations()) {
    const status = Object.keys(operation.responses).find(code => code.startsWith('2'))!
    const content = operation.responses[status]!.content
    if (status === '204') expect(content).toBeUndefined()
    else expect(Object.keys(content ?? {}).length).toBeGreaterThan(0)
  }
})

/** A value for whatever an address names. */
const SOME: Record<string, string> = new Proxy(
  {},
  {
    get: (_, name) => (name === 'format' ? 'pdf' : '999'),
  },
)

/** The server's own routes are made from the table; this asks them from outside. */
test.each(Object.keys(PATHS) as EndpointName[])(
  '%s is answered where it is described',
  async name => {
    const { method } = PATHS[name]
    const address = fillPath(name, SOME)
    const abort = new AbortController()
    const answer = await server.fetch(address, { method, signal: abort.signal })
    expect(answer.headers.get('content-security-policy')).not.toBeNull()
    const type = answer.headers.get('content-type') ?? ''
    if (answer.status === 404) expect(await answer.text()).not.toContain('there is nothing at')
    if (name === 'events') expect(type).toContain('text/event-stream')
    else if (answer.status !== 204) expect(type).toContain('application/json')
    abort.abort()
  },
)

test('an address of the API that is not described is not found', async () => {
  const answer = await server.fetch(`${API_ROOT}/nothing/here`)
  expect(answer.status).toBe(404)
  expect(await answer.json()).toMatchObject({ error: { code: 'not-found' } })
})

test('whatever changes something says so: it is no GET', () => {
  for (const name of Object.keys(PATHS) as EndpointName[]) {
    const { may } = ENDPOINTS[name]
    if (may === 'change' || may === 'drive') expect(PATHS[name].method).not.toBe('GET')
  }
})
