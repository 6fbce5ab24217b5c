import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Store } from '../../server/store/store.ts'
import { motorPage } from '../../src/contract/http-motors.ts'
import { runPage, seriesView } from '../../src/contract/http-runs.ts'
import { API_ROOT } from '../../src/contract/http-paths.ts'
import { sheetPage } from '../../src/contract/sheet-facts.ts'
import {
  identifyInStore,
  logPracticeSuite,
  type StoreFolder,
  storeFolder,
  testStore,
} from './support/practice-store.ts'
import { stillBench } from './support/still-bench.ts'
import { startTestServer, type TestServer } from './support/test-server.ts'

let folder: StoreFolder
let store: Store
let server: TestServer
let freeRun: number

const get = async (path: string) => (await server.fetch(API_ROOT + path)).json()

beforeAll(async () => {
  folder = storeFolder()
  store = testStore(folder.file)
  const ids = await logPracticeSuite(store, 'fennimore-24', 'sample')
  freeRun = ids.find(id => store.runs.get(id).kind === 'free-run')!
  identifyInStore(store, 'sample')
  server = await startTestServer(store, stillBench())
})
afterAll(async () => {
  await server.close()
  store.close()
  folder.remove()
})

describe('answers keep to their schemas', () => {
  test('a run with its fit', async () => {
    expect(runPage.safeParse(await get(`/runs/${freeRun}?points=300`)).error).toBeUndefined()
  })
  test('a motor with its runs', async () => {
    expect(motorPage.safeParse(await get('/motors/1')).error).toBeUndefined()
  })
  test('a sheet', async () => {
    expect(sheetPage.safeParse(await get('/motors/1/sheet')).error).toBeUndefined()
  })
})

describe('the samples of a run', () => {
  test('close up, the residual is measured minus fitted, slot by slot', async () => {
    const view = seriesView.parse(
      await get(`/runs/${freeRun}/series?from=1.2&to=1.3&points=4000&fit=1`),
    )
    const of = (list: typeof view.residual | typeof view.measured) =>
      list.find(one => one.quantity === 'current')!.mean
    const measured = of(view.measured)
    const residual = of(view.residual)
    const fitted = view.fitted.find(one => one.quantity === 'current')!.mean
    let compared = 0
    for (const [i, value] of measured.entries()) {
      if (value === null || fitted[i] == null || residual[i] == null) continue
      // Each is sent with seven digits: five decimals at 10 A.
      expect(Math.abs(value - fitted[i]! - residual[i]!)).toBeLessThan(2e-5)
      compared++
    }
    expect(compared).toBeGreaterThan(300)
    expect(view.isDetail).toBe(true)
  })

  test('far out, each slot holds the lowest and highest of its samples', async () => {
    const view = seriesView.parse(await get(`/runs/${freeRun}/series?points=50`))
    const { columns } = store.runs.recording(freeRun)
    const speed = view.measured.find(one => one.quantity === 'speed')!
    expect(Math.max(...speed.high.map(v => v ?? 0))).toBeCloseTo(Math.max(...columns.speed!), 2)
    expect(Math.min(...speed.low.map(v => v ?? 0))).toBeCloseTo(Math.min(...columns.speed!), 2)
    expect(view.x.length).toBe(50)
  })

  test('a wrong window is told in one line', async () => {
    const answer = await server.fetch(`${API_ROOT}/runs/${freeRun}/series?points=many`)
    expect(answer.status).toBe(400)
    expect(await answer.text()).toContain('points')
  })

  test('a run that is not there is told by its number', async () => {
    const answer = await server.fetch(`${API_ROOT}/runs/4711`)
    expect(answer.status).toBe(404)
    expect(await answer.text()).toContain('4711')
  })

  test('as CSV they are all there, one row a sample', async () => {
    const text = await (await server.fetch(`${API_ROOT}/runs/${freeRun}/recording.csv`)).text()
    const rows = text.trimEnd().split('\n')
    expect(rows[0]).toContain('current [A]')
    expect(rows.length).toBe(store.runs.get(freeRun).sampleCount + 1)
  })
})
