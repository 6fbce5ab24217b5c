import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Store } from '../../server/store/store.ts'
import { readJsonFile } from '../../server/files/json-file.ts'
import { projectFile } from '../../server/files/project-file.ts'
import { API_ROOT, PAGE_HEADER } from '../../src/contract/http-paths.ts'
import { motorModel } from '../../src/contract/motor-model.ts'
import { withstandDocument } from '../../src/contract/withstand-document.ts'
import { fitOf } from '../support/fit-documents.ts'
import { type StoreFolder, storeFolder, testStore } from './support/practice-store.ts'
import { stillBench } from './support/still-bench.ts'
import { startTestServer, type TestServer } from './support/test-server.ts'

let folder: StoreFolder
let store: Store
let server: TestServer
let drive: Record<string, unknown>

beforeAll(async () => {
  folder = storeFolder()
  store = testStore(folder.file)
  drive = (await readJsonFile(projectFile('datasets/examples/drive-24v.json'))) as typeof drive
  const known = (unit: string, value: number) => ({
    unit,
    status: 'determined' as const,
    value,
    standardUncertainty: value / 100,
    lower95: null,
    upper95: null,
  })
  const absent = { ...known('', 0), status: 'not-in-model' as const, value: null }
  const { parameters } = fitOf('m', 5, 2e-3)
  const document = fitOf('m', 5, 2e-3, {
    parameters: {
      ...parameters,
      brushDrop: absent,
      inductance: known('H', 2e-3),
      backEmfConstant: known('V s/rad', 0.03),
      torqueConstant: known('N m/A', 0.03),
      staticTorque: absent,
      viscousCoefficient: absent,
      windageCoefficient: absent,
      offsetTorque: absent,
      inertia: known('kg m2', 4e-6),
    },
  })
  const motor = store.motors.add({ name: 'm' })
  store.fits.add({ motorId: motor.id, runIds: [], document, settings: {}, inputsHash: '' })
  store.motors.add({ name: 'unknown' })
  server = await startTestServer(store, stillBench())
})
afterAll(async () => {
  await server.close()
  store.close()
  folder.remove()
})

const ask = (motor: number, body: unknown, query = '') =>
  server.fetch(`${API_ROOT}/motors/${motor}/withstand${query}`, {
    method: 'POST',
    headers: { 'Content-Type': 'application/json', [PAGE_HEADER]: '1' },
    body: JSON.stringify(body),
  })

describe('what a drive must withstand, asked over HTTP', () => {
  test('the answer is withstand/1, with findings and operating points', async () => {
    const answer = await ask(1, drive)
    expect(answer.status).toBe(200)
    const document = withstandDocument.parse(await answer.json())
    expect(document.findings.find(f => f.id === 'stallCurrentCold')!.value).toBeGreaterThan(0)
    expect(document.operatingPoints.filter(point => point.values !== null).length).toBeGreaterThan(
      4,
    )
  })

  test.each([
    [{ bridge: {} }, 'supply'],
    ['turned', 'supply.lowestVolt: 40 is above supply.highestVolt 28'],
  ])('a drive that cannot be (%j) is refused by its key path', async (body, text) => {
    const supply = { lowestVolt: 40, highestVolt: 28 }
    const answer = await ask(1, body === 'turned' ? { ...drive, supply } : body)
    expect([400, 422]).toContain(answer.status)
    expect(((await answer.json()) as { error: { text: string } }).error.text).toContain(text)
  })

  test('a motor that was not identified has none', async () => {
    const answer = await ask(2, drive)
    expect(((await answer.json()) as { error: { text: string } }).error.text).toContain(
      "'unknown' has not been identified yet",
    )
  })
})

test.each([
  'identification?fit=1',
  'identification?other=1',
  'drive?fit=1',
  'sheet?fit=1',
  'sheet/json?fit=1',
  'model/json?fit=1',
])("a fit of another motor is not shown under this one's name: %s", async path => {
  const answer = await server.fetch(`${API_ROOT}/motors/2/${path}`)
  expect(answer.status).toBe(422)
  expect(((await answer.json()) as { error: { text: string } }).error.text).toBe(
    "fit 1 is not one of 'unknown'",
  )
  expect((await server.fetch(`${API_ROOT}/motors/1/${path}`)).status).toBe(200)
})

test('the model of a motor is a file to keep', async () => {
  const file = async (format: string) => server.fetch(`${API_ROOT}/motors/1/model/${format}`)
  const spice = await file('cir')
  expect(spice.headers.get('content-disposition')).toContain('motor_m.cir')
  expect(await spice.text()).toContain('.subckt motor_m plus minus shaft')
  expect(await (await file('mo')).text()).toContain('package motor_m')
  expect(motorModel.parse(await (await file('json')).json()).fit).toBe(1)
})

test('schemas are served, to anyone', async () => {
  const answer = await fetch(`${server.origin}${API_ROOT}/schemas/motor-model-1`)
  expect(await answer.json()).toMatchObject({
    $schema: 'https://json-schema.org/draft/2020-12/schema',
  })
})
