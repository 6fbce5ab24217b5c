import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Store } from '../../server/store/store.ts'
import { API_ROOT } from '../../src/contract/http-paths.ts'
import { type StoreFolder, storeFolder, testStore } from './support/practice-store.ts'
import { stillBench } from './support/still-bench.ts'
import { startTestServer, type TestServer } from './support/test-server.ts'

let folder: StoreFolder
let store: Store
let server: TestServer

beforeAll(async () => {
  folder = storeFolder()
  store = testStore(folder.file)
  store.motors.add({ name: 'M' })
  store.types.add({ name: 'T' })
  server = await startTestServer(store, stillBench())
})
afterAll(async () => {
  await server?.close()
  store?.close()
  folder?.remove()
})

async function refused(method: string, path: string, body?: unknown) {
  const answer = await server.fetch(API_ROOT + path, {
    method,
    ...(body === undefined
      ? {}
      : { body: JSON.stringify(body), headers: { 'Content-Type': 'application/json' } }),
  })
  const { error } = (await answer.json()) as { error: { code: string; text: string } }
  return { status: answer.status, ...error }
}

describe('what is not there is 404, by its number', () => {
  test.each([
    ['GET', '/motors/99', undefined, 'no motor 99 in the store'],
    ['PATCH', '/motors/99', { notes: 'x' }, 'no motor 99 in the store'],
    ['DELETE', '/motors/99', undefined, 'no motor 99 in the store'],
    ['GET', '/motors/99/sheet', undefined, 'no motor 99 in the store'],
    ['GET', '/runs/99', undefined, 'no run 99 in the store'],
    ['GET', '/samples?batch=99', undefined, 'no batch 99 in the store'],
    ['GET', '/batches/99/report/json?against=1', undefined, 'no batch 99 in the store'],
    ['GET', '/samples?against=99', undefined, 'no type 99 in the store'],
    ['GET', '/types/99/study', undefined, 'no type 99 in the store'],
    ['GET', '/nothing', undefined, 'there is nothing at GET /nothing'],
  ])('%s %s', async (method, path, body, text) => {
    expect(await refused(method, path, body)).toMatchObject({
      status: 404,
      code: 'not-found',
      text: expect.stringContaining(text),
    })
  })
})

describe('what is wrong in a request is said in our own words', () => {
  test.each([
    ['GET', '/motors/abc', undefined, 'address: motor: needs a number'],
    ['GET', '/motors/-1', undefined, 'address: motor: needs more than 0'],
    ['GET', '/motors/1.5', undefined, 'address: motor: needs a whole number'],
    ['POST', '/motors', {}, 'body: name: is missing; needs a text'],
    ['POST', '/motors', { name: 7 }, 'body: name: needs a text'],
    ['POST', '/motors', { name: '' }, 'body: name: needs at least 1 character'],
    ['POST', '/motors', { name: 'x'.repeat(201) }, 'body: name: needs at most 200 characters'],
    ['POST', '/types/1/limits', { reference: 1 }, 'body: reference: needs a list'],
    [
      'GET',
      '/batches/1/report/json?against=1&rule=luck',
      undefined,
      'query: rule: needs one of simple, conformity, consumer-risk',
    ],
    ['GET', '/batches/1/report/json', undefined, 'query: against: '],
  ])('%s %s', async (method, path, body, text) => {
    const answer = await refused(method, path, body)
    expect(answer).toMatchObject({ status: 400, code: 'request' })
    expect(answer.text).toContain(text)
    expect(answer.text).not.toMatch(/invalid|expected|received|zod/i)
  })

  test('a body that is no JSON', async () => {
    const answer = await server.fetch(`${API_ROOT}/motors`, {
      method: 'POST',
      body: '{"name":',
      headers: { 'Content-Type': 'application/json' },
    })
    expect(answer.status).toBe(400)
    expect(await answer.text()).toContain('the request could not be read')
  })
})
