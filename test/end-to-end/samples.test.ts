import { mkdirSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Store } from '../../server/store/store.ts'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { type StoreFolder, storeFolder, testStore } from '../http/support/practice-store.ts'
import { stillBench } from '../http/support/still-bench.ts'
import { startTestServer, type TestServer } from '../http/support/test-server.ts'
import { fitOf } from '../support/fit-documents.ts'
import { violations } from './support/accessibility.ts'
import { BROWSER, launchBrowser, sayWithoutBrowser, type Visit, visit } from './support/browser.ts'
import { buildPage } from './support/page-build.ts'

sayWithoutBrowser()

const SHOTS = fileURLToPath(new URL('../../test-output/screenshots/', import.meta.url))

/** A delivery of 24: one rubs, one is close to a limit, one was never tested; and a check motor. */
function fill(store: Store): void {
  const normal = seededNormal(seededUniform(4))
  const typeId = store.types.add({ name: 'RX-12' }).id
  const batch = store.batches.add({ name: 'delivery 9', typeId }).id
  const add = (name: string, serialNumber: string, ohm: number, coulomb: number) => {
    const motor = store.motors.find(name) ?? store.motors.add({ name, typeId, serialNumber })
    const document = fitOf(name, ohm, coulomb)
    store.fits.add({ motorId: motor.id, runIds: [], document, settings: {}, inputsHash: '' })
    return motor.id
  }
  const approved = add('approved', 'A1', 1, 1e-3)
  for (let i = 1; i <= 24; i++) {
    const ohm = i === 5 ? 1.055 : 1 + 0.01 * normal()
    const id = add(`RX ${i}`, `L${i}`, ohm, i === 9 ? 1.4e-3 : 1e-3 * (1 + 0.01 * normal()))
    store.batches.include(batch, id)
  }
  store.batches.include(batch, store.motors.add({ name: 'RX 25', typeId, serialNumber: 'L25' }).id)
  store.limits.add({
    typeId,
    limits: [
      { quantity: 'resistance', unit: 'ohm', basis: 'percent', lower: -6, upper: 6 },
      { quantity: 'coulombTorque', unit: 'N m', basis: 'percent', lower: -15, upper: 15 },
    ],
    referenceTemperatureCelsius: 20,
    referenceMotorIds: [approved],
    author: 'Q',
    reason: 'approval',
  })
  for (let shift = 0; shift < 8; shift++) {
    const motorId = add('check', 'C1', 1 + 0.002 * normal(), 1e-3 * (1 + 0.002 * normal()))
    store.checkMeasurements.add({ motorId, operator: 'Ada', fitId: store.fits.latest(motorId)!.id })
  }
}

describe.skipIf(BROWSER === null)('the samples', () => {
  let folder: StoreFolder
  let store: Store
  let server: TestServer
  let built: Awaited<ReturnType<typeof buildPage>>
  let browser: Browser
  let seen: Visit

  beforeAll(async () => {
    mkdirSync(SHOTS, { recursive: true })
    folder = storeFolder()
    store = testStore(folder.file)
    fill(store)
    built = await buildPage()
    server = await startTestServer(store, stillBench(), { pageFolder: built.folder })
    browser = await launchBrowser()
    seen = await visit(browser)
    await seen.page.goto(server.server.entryUrl())
  }, 120_000)
  afterAll(async () => {
    await browser?.close()
    await server?.close()
    store?.close()
    built?.remove()
    folder?.remove()
  })

  test('verdicts, charts and limits at two widths, in both schemes, for everybody', async () => {
    const { page, faults } = seen
    faults.length = 0
    await page.goto(`${server.origin}/samples`)
    await page.getByText('1 fail').first().waitFor()
    expect(await page.getByText('What stands out').count()).toBe(1)
    for (const width of [1280, 800]) {
      await page.setViewportSize({ width, height: 3600 })
      for (const scheme of ['light', 'dark'] as const) {
        await page.emulateMedia({ colorScheme: scheme })
        expect(await page.evaluate('document.documentElement.scrollWidth')).toBeLessThanOrEqual(
          width,
        )
        await page.waitForTimeout(60)
        await page.screenshot({ path: `${SHOTS}samples-${width}-${scheme}.png` })
        if ((width === 1280) === (scheme === 'light')) expect(await violations(page)).toEqual([])
      }
    }
    expect(faults).toEqual([])
  }, 60_000)

  test('a scan opens the sample; next goes on; an unknown number joins the batch', async () => {
    const { page, faults } = seen
    faults.length = 0
    await page.setViewportSize({ width: 1280, height: 1400 })
    await page.goto(`${server.origin}/samples`)
    const field = page.getByLabel('Serial number (scan or type)')
    await field.waitFor()
    await page.keyboard.type('L9')
    await page.keyboard.press('Enter')
    const detail = page.getByRole('region', { name: 'Sample RX 9' })
    await detail.waitFor()
    expect(await detail.textContent()).toContain('40 % above the reference: brushes or bearings')
    await page.screenshot({ path: `${SHOTS}samples-one.png` })
    expect(await violations(page)).toEqual([])
    await page.getByRole('button', { name: 'Next' }).click()
    await page.getByRole('region', { name: 'Sample RX 10' }).waitFor()
    await field.fill('L77')
    await page.keyboard.press('Enter')
    await page.getByRole('region', { name: 'Sample L77' }).waitFor()
    expect(store.batches.named('delivery 9').motorIds).toHaveLength(26)
    expect(faults).toEqual([])
  }, 60_000)

  test('limits are set with author and reason, and the earlier ones stay to be seen', async () => {
    const { page, faults } = seen
    faults.length = 0
    await page.goto(`${server.origin}/samples`)
    await page.getByText('Set new limits').click()
    await page.getByLabel('approved', { exact: true }).check()
    const lines = page.getByLabel('Limits, one a line', { exact: false })
    await lines.fill('resistance=5%..-5%')
    await page.getByLabel('Author').fill('Quinn')
    await page.getByLabel('Reason').fill('tighter')
    await page.getByRole('button', { name: 'Set from now on' }).click()
    await page.getByText('is not below upper').first().waitFor()
    faults.length = 0
    await lines.fill('resistance=-3%..3%')
    await page.getByRole('button', { name: 'Set from now on' }).click()
    await page.getByText('Earlier limits (1)').waitFor()
    const type = store.types.named('RX-12').id
    expect(store.limits.history(type).map(set => set.author)).toEqual(['Quinn', 'Q'])
    expect(faults).toEqual([])
  }, 60_000)

  test('the report can be fetched as each kind of file', async () => {
    for (const format of ['pdf', 'html', 'csv', 'json']) {
      const response = await server.fetch(`/api/v1/batches/1/report/${format}?against=1`)
      expect(response.status).toBe(200)
      expect(response.headers.get('content-disposition')).toContain(`delivery-9-report.${format}`)
      expect((await response.arrayBuffer()).byteLength).toBeGreaterThan(500)
    }
    expect(
      (await server.fetch('/api/v1/batches/99/report/json?against=1')).status,
    ).toBeGreaterThanOrEqual(400)
  }, 30_000)
})
