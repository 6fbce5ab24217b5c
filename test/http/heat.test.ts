import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Store } from '../../server/store/store.ts'
import type { DrivePage, HeatPage, RecognisePage } from '../../src/contract/http-heat.ts'
import { fillPath, PAGE_HEADER } from '../../src/contract/http-paths.ts'
import type { WithstandDocument } from '../../src/contract/withstand-document.ts'
import { practiceHeatingRun } from '../../src/practice-rig/heating-run.ts'
import { practiceRun } from '../../src/practice-rig/practice-run.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { practiceMotor } from '../support/practice.ts'
import {
  identifyInStore,
  type StoreFolder,
  storeFolder,
  storeRun,
  testStore,
} from './support/practice-store.ts'
import { stillBench } from './support/still-bench.ts'
import { startTestServer, type TestServer } from './support/test-server.ts'

const motor = practiceMotor('hazelnut-24')
/** Motors of the store: identified and warmed; with a heating run that tells nothing; without a run. */
const [WARMED, BRIEF, EMPTY] = [1, 2, 3]

let folder: StoreFolder
let store: Store
let server: TestServer

beforeAll(async () => {
  folder = storeFolder()
  store = testStore(folder.file)
  for (const name of ['warmed', 'brief', 'empty']) store.motors.add({ name })
  for (const kind of ['locked-rotor', 'free-run', 'run-up'] as const) {
    await storeRun(store, WARMED, practiceRun(motor, kind, 3, { benchSeed: 2, rateHz: 4000 }))
  }
  identifyInStore(store, 'warmed')
  await storeRun(store, WARMED, practiceHeatingRun(motor, 21))
  await storeRun(store, BRIEF, practiceHeatingRun(motor, 4, { heatSec: 2, coolSec: 2 }))
  server = await startTestServer(store, stillBench())
}, 90_000)
afterAll(async () => {
  await server.close()
  store.close()
  folder.remove()
})

async function asked<T>(
  name: 'heat' | 'recognise' | 'drivePage',
  id: number,
  query = '',
): Promise<T> {
  const response = await server.fetch(fillPath(name, { motor: id }) + query)
  const body = (await response.json()) as { error: { text: string } }
  if (!response.ok) throw new Error(`${response.status} ${body.error.text}`)
  return body as unknown as T
}

describe('heat of a motor', () => {
  test('the newest heating run, for class and air as asked; hotter air leaves less', async () => {
    const cool = await asked<HeatPage>('heat', WARMED, '?class=F&ambient=25')
    const hot = await asked<HeatPage>('heat', WARMED, '?class=F&ambient=100')
    if (cool.outcome.state !== 'told' || hot.outcome.state !== 'told') throw new Error('not told')
    const { document, stallVolt } = cool.outcome
    expect(document.limitsFor).toMatchObject({ insulationClass: 'F', ambientCelsius: 25 })
    expect(document.limits.continuousCurrent.value).toBeGreaterThan(
      hot.outcome.document.limits.continuousCurrent.value!,
    )
    // Identified: what a stall is follows from the highest voltage of its tests.
    expect(stallVolt).toBeGreaterThan(10)
    expect(document.limits.stallTimeCold.status).toBe('determined')
    expectRelative(document.numbers.windingHeat.value!, motor.thermal.windingJPerK, 0.15)
  })

  test('the course in ohms and in degrees belongs to the same readings', async () => {
    const { outcome } = await asked<HeatPage>('heat', WARMED)
    if (outcome.state !== 'told') throw new Error('not told')
    const { course, startCelsius } = outcome.document
    const { timeSec, windingOhm, fittedWindingOhm, windingCelsius } = course
    for (const column of [windingOhm, fittedWindingOhm, windingCelsius]) {
      expect(column).toHaveLength(timeSec.length)
    }
    // Copper over 234.5 + T, but for the few per cent that stay cold.
    const top = windingCelsius.indexOf(Math.max(...windingCelsius))
    const copper = (234.5 + windingCelsius[top]!) / (234.5 + startCelsius)
    const whole = windingOhm[top]! / outcome.document.startResistanceOhm
    expect(whole).toBeLessThan(copper)
    expectRelative(whole - 1, 0.97 * (copper - 1), 1e-6)
  })

  test('a run that tells nothing says why; no run is no fault', async () => {
    expect((await asked<HeatPage>('heat', BRIEF)).outcome).toMatchObject({ state: 'in-trouble' })
    expect((await asked<HeatPage>('heat', EMPTY)).outcome).toEqual({ state: 'no-run' })
  })

  test.each([
    ['?class=Q', /class/],
    ['?ambient=900', /ambient/],
    ['?run=1', /run 1 is no heating run of 'warmed'/],
    ['?stall=-3', /stall/],
  ])('%s is refused', async (query, text) => {
    await expect(asked('heat', WARMED, query)).rejects.toThrow(text)
  })
})

test('what kind of motor it is: findings and a plate whose continuous current is of the heating run', async () => {
  const { outcome } = await asked<RecognisePage>('recognise', WARMED, '?rated=24')
  if (outcome.state !== 'told') throw new Error('not told')
  const line = outcome.document.nameplate.lines.find(one => one.label === 'Continuous current')
  expect(line?.value).toBeGreaterThan(0)
  expect(outcome.document.nameplate.lines[0]).toMatchObject({ value: 24, basis: 'as stated' })
  expect((await asked<RecognisePage>('recognise', EMPTY)).outcome).toEqual({ state: 'no-run' })
}, 60_000)

describe('a drive for it', () => {
  test('the page gets the heat that its winding takes, with the uncertainty and the run', async () => {
    const page = await asked<DrivePage>('drivePage', WARMED)
    expect(page.fit?.id).toBe(1)
    expect(page.windingHeat?.run).toBe(4)
    expectRelative(page.windingHeat!.joulePerKelvin, motor.thermal.windingJPerK, 0.15)
    expect(page.windingHeat!.standardUncertainty).toBeGreaterThan(0)
    expect(page.heatNote).toContain('heating run 4')
    expect(await asked<DrivePage>('drivePage', EMPTY)).toMatchObject({
      fit: null,
      windingHeat: null,
    })
  })

  test('the time to the limit takes it too, unless the drive states its own', async () => {
    const drive = {
      supply: { lowestVolt: 20, highestVolt: 25 },
      bridge: { pathResistanceOhm: 0.1, pwmHz: 20_000, edgeSec: 1e-7 },
      dcLink: { capacitanceFarad: 1e-3, esrOhm: 0.02, loopInductanceHenry: 2e-8, ratedVolt: 35 },
      ambient: { lowestCelsius: 20, highestCelsius: 40 },
    }
    const stall = async (changes: object) => {
      const response = await server.fetch(fillPath('withstand', { motor: WARMED }), {
        method: 'POST',
        headers: { 'Content-Type': 'application/json', [PAGE_HEADER]: '1' },
        body: JSON.stringify({ ...drive, ...changes }),
      })
      const { findings } = (await response.json()) as WithstandDocument
      return findings.find(({ id }) => id === 'stallTime')!
    }
    const measured = await stall({})
    expect(measured.inputs.at(-1)!.name).toContain('heating run 4')
    expect(measured.standardUncertainty! / measured.value!).toBeGreaterThan(0.01)
    expect((await stall({ windingHeatJoulePerKelvin: 5 })).inputs.at(-1)).toEqual({
      name: 'winding takes',
      value: 5,
      unit: 'J/K',
    })
  })
})
