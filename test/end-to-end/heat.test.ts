import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Store } from '../../server/store/store.ts'
import { practiceHeatingRun } from '../../src/practice-rig/heating-run.ts'
import { practiceRun } from '../../src/practice-rig/practice-run.ts'
import {
  type StoreFolder,
  storeFolder,
  storeRun,
  testStore,
} from '../http/support/practice-store.ts'
import { type StillBench, stillBench } from '../http/support/still-bench.ts'
import { startTestServer, type TestServer } from '../http/support/test-server.ts'
import { practiceMotor } from '../support/practice.ts'
import { violations } from './support/accessibility.ts'
import { benchScenes } from './support/bench-scenes.ts'
import { BROWSER, launchBrowser, sayWithoutBrowser, type Visit, visit } from './support/browser.ts'
import { buildPage } from './support/page-build.ts'

sayWithoutBrowser()

describe.skipIf(BROWSER === null)('what kind of motor it is, and how warm it gets', () => {
  let folder: StoreFolder
  let store: Store
  let bench: StillBench
  let server: TestServer
  let built: Awaited<ReturnType<typeof buildPage>>
  let browser: Browser
  let seen: Visit
  const asked: string[] = []

  beforeAll(async () => {
    folder = storeFolder()
    store = testStore(folder.file)
    const warmed = store.motors.add({ name: 'Warmed' })
    await storeRun(store, warmed.id, practiceHeatingRun(practiceMotor('peppercorn-3'), 21))
    const rippling = store.motors.add({ name: 'Without a speed sensor' })
    const motor = practiceMotor('hazelnut-24')
    for (const kind of ['locked-rotor', 'free-run'] as const) {
      const run = practiceRun(motor, kind, 3, { benchSeed: 2, rateHz: 20_000 })
      const { speed: _, position: __, ...columns } = run.recording.columns
      await storeRun(store, rippling.id, { ...run, recording: { ...run.recording, columns } })
    }
    built = await buildPage()
    bench = stillBench()
    server = await startTestServer(store, bench, { pageFolder: built.folder })
    browser = await launchBrowser()
    seen = await visit(browser)
    await seen.page.goto(server.server.entryUrl())
    seen.page.on('request', request => {
      const { pathname, search } = new URL(request.url())
      if (/^\/api\/v1\/(?!session|events|bench)/.test(pathname)) asked.push(pathname + search)
    })
  })
  afterAll(async () => {
    await browser?.close()
    await server?.close()
    store?.close()
    built?.remove()
    folder?.remove()
  })

  const number = async (label: RegExp) => {
    const row = seen.page.getByRole('row', { name: label })
    return Number((await row.locator('.number').first().textContent())?.replace(/[^\d.].*$/, ''))
  }

  test('a heating test is begun at the bench, with the hottest coil that is allowed', async () => {
    const { page, faults } = seen
    benchScenes.ready!.set(bench)
    bench.set({ cautionsAcknowledged: true })
    await page.goto(`${server.origin}/motors/2/heat`)
    await page.getByText('No heating run yet').waitFor()
    await page.getByRole('link', { name: 'Log at the bench' }).click()
    await page.getByText('One test by your own numbers').click()
    await page.getByLabel(/^Test/).selectOption('heating')
    await page.getByText('its winding is the thermometer').waitFor()
    for (const [label, text] of [
      ['Voltage, V', '3'],
      ['Air, °C', '23'],
      ['Hottest coil, °C', '120'],
    ] as const) {
      await page.getByLabel(label).fill(text)
    }
    expect(await violations(page)).toEqual([])
    const [request] = await Promise.all([
      page.waitForRequest(one => one.url().endsWith('/bench/test')),
      page.getByRole('button', { name: 'Log this test' }).click(),
    ])
    expect(request.postDataJSON()).toEqual({
      motor: 2,
      kind: 'heating',
      voltageVolt: 3,
      ambientCelsius: 23,
      hottestCelsius: 120,
    })
    expect(faults).toEqual([])
  })

  test('a better class of insulation allows more; the choice stands in the address', async () => {
    const { page } = seen
    await page.goto(`${server.origin}/motors/1`)
    await page.getByRole('link', { name: 'Heat', exact: true }).click()
    await page.getByText('Class B, air of').waitFor()
    expect(asked.filter(path => path.includes('1/heat'))).toEqual(['/api/v1/motors/1/heat'])
    const before = await number(/^Continuous current/)
    await page.getByLabel('Insulation class').selectOption('F')
    await page.getByText('Class F, air of').waitFor()
    expect(await number(/^Continuous current/)).toBeGreaterThan(before)
    expect(new URL(page.url()).searchParams.get('class')).toBe('F')
    await page.reload()
    await page.getByText('Class F, air of').waitFor()
    await page.goBack()
    await page.getByText('Class B, air of').waitFor()
  })

  test('by keys alone: a stall has a time once it is said what it is; nonsense is said and not asked', async () => {
    const { page, faults } = seen
    await page.getByText('State what a stall is').first().waitFor()
    await page.getByLabel('Voltage of a stall').focus()
    await page.keyboard.type('3')
    await page.keyboard.press('Enter')
    const row = page.getByRole('row', { name: /^Time to the limit in a stall, from cold/ })
    await row.locator('.number').first().waitFor()
    expect(new URL(page.url()).searchParams.get('stall')).toBe('3')
    const count = asked.length
    await page.getByLabel('Air around the motor').fill('400')
    await page.keyboard.press('Enter')
    await page.getByText('Needs a number from -60 to 150').waitFor()
    expect(asked.length).toBe(count)
    expect(faults).toEqual([])
  })

  test('without a speed sensor the ripple counts stay candidates, each with its k', async () => {
    const { page, faults } = seen
    asked.length = 0
    await page.goto(`${server.origin}/motors/2/recognise`)
    await page.getByText('What the tests show').waitFor({ timeout: 60_000 })
    expect(asked).toEqual(['/api/v1/motors/2/recognise'])
    const finding = page.getByRole('listitem').filter({ hasText: /^Ripples a turn/ })
    await finding.getByText('the likeliest counts are').waitFor()
    const evidence = finding.getByRole('list', { name: /^Evidence/ })
    expect(await evidence.getByText(/^k with \d+ ripples a turn/).count()).toBeGreaterThan(1)
    await page.getByText('a proposal from speed and usage').waitFor()
    expect(faults).toEqual([])
  })
})
