import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Store } from '../../server/store/store.ts'
import { practiceRun } from '../../src/practice-rig/practice-run.ts'
import {
  type StoreFolder,
  storeFolder,
  storeRun,
  testStore,
} from '../http/support/practice-store.ts'
import { stillBench } from '../http/support/still-bench.ts'
import { startTestServer, type TestServer } from '../http/support/test-server.ts'
import { practiceMotor } from '../support/practice.ts'
import { BROWSER, launchBrowser, sayWithoutBrowser, type Visit, visit } from './support/browser.ts'
import { buildPage } from './support/page-build.ts'

sayWithoutBrowser()

const FIT_MS = 120_000

describe.skipIf(BROWSER === null)('identification in a browser', () => {
  let folder: StoreFolder
  let store: Store
  let server: TestServer
  let built: Awaited<ReturnType<typeof buildPage>>
  let browser: Browser
  let seen: Visit
  let motor: number
  let freeRun: number

  beforeAll(async () => {
    folder = storeFolder()
    store = testStore(folder.file)
    motor = store.motors.add({ name: 'D' }).id
    const choices = { rateHz: 1000 }
    await storeRun(
      store,
      motor,
      practiceRun(practiceMotor('dormouse-12'), 'locked-rotor', 1, choices),
    )
    freeRun = await storeRun(
      store,
      motor,
      practiceRun(practiceMotor('dormouse-12'), 'free-run', 2, choices),
    )
    built = await buildPage()
    server = await startTestServer(store, stillBench(), { pageFolder: built.folder })
    browser = await launchBrowser()
    seen = await visit(browser)
    await seen.page.goto(server.server.entryUrl())
  })
  afterAll(async () => {
    await browser?.close()
    await server?.close()
    store?.close()
    built?.remove()
    folder?.remove()
  })

  test('a fit is started, watched and cancelled; nothing is stored', async () => {
    const { page, faults } = seen
    await page.goto(`${server.origin}/motors/${motor}/parameters`)
    await page.getByRole('button', { name: 'Identify', exact: true }).click()
    await page.getByRole('progressbar', { name: 'Identifying' }).waitFor()
    await page.getByRole('button', { name: 'Cancel' }).click()
    await page.getByText('The identification was cancelled; nothing was stored.').waitFor()
    expect(store.fits.list(motor)).toEqual([])
    expect(faults).toEqual([])
  })

  test(
    'samples excluded by hand: the fit is said to be outdated, and done again without them',
    async () => {
      const { page, faults } = seen
      await page.getByRole('button', { name: 'Identify', exact: true }).click()
      await page.getByRole('region', { name: 'Parameters' }).waitFor({ timeout: FIT_MS })
      const before = store.fits.latest(motor)!

      await page.goto(`${server.origin}/runs/${freeRun}`)
      const box = (await page.getByRole('img', { name: /^Speed in rpm/ }).boundingBox())!
      await page.mouse.click(box.x + box.width * 0.1, box.y + 40)
      await page.keyboard.down('Shift')
      await page.mouse.click(box.x + box.width * 0.45, box.y + 40)
      await page.keyboard.up('Shift')
      await page.getByRole('button', { name: 'Leave A to B out of fits' }).click()
      const left = page.getByRole('heading', { name: 'Left out of fits' })
      await left.waitFor()

      await page.goto(`${server.origin}/motors/${motor}/parameters`)
      await page.getByText('The runs have changed since this fit was made').waitFor()
      await page.getByRole('button', { name: 'Identify again' }).click()
      await expect
        .poll(() => store.fits.latest(motor)!.id, { timeout: FIT_MS })
        .toBeGreaterThan(before.id)
      const after = store.fits.latest(motor)!
      expect(after.inputsHash).not.toBe(before.inputsHash)
      // What was left out no longer counts.
      expect(after.document.goodness.degreesOfFreedom).toBeLessThan(
        before.document.goodness.degreesOfFreedom,
      )
      await page
        .getByText('The runs have changed since this fit was made')
        .waitFor({ state: 'detached' })
      expect(faults).toEqual([])
    },
    2 * FIT_MS + 30_000,
  )

  test(
    'a parameter held, laws chosen and a run left out by hand: again means again with these; two fits compared',
    async () => {
      const { page, faults } = seen
      const newest = () => store.fits.latest(motor)!
      const before = newest().id
      await page.getByText('Choose runs, hold or free parameters').click()
      await page.getByRole('checkbox', { name: /^Free run/ }).uncheck()
      await page.getByLabel('How to treat Brush drop').selectOption('fix')
      await page.getByLabel('Brush drop held at').fill('0,85')
      await page.getByLabel('Brush drop over current').selectOption('sgn')
      await page.getByLabel('Friction in the two directions').selectOption('by-direction')
      await page.getByRole('button', { name: 'Identify with these' }).click()
      await expect.poll(() => newest().id, { timeout: FIT_MS }).toBeGreaterThan(before)
      const held = newest()
      expect(held.document.parameters.brushDrop).toMatchObject({ status: 'fixed', value: 0.85 })
      const laws = { brushDropLaw: 'sgn', frictionLaw: 'by-direction' }
      expect(held.settings).toMatchObject(laws)

      await page.reload()
      await page.getByRole('button', { name: 'Identify again' }).click()
      await expect.poll(() => newest().id, { timeout: FIT_MS }).toBeGreaterThan(held.id)
      expect(newest().document.parameters.brushDrop).toMatchObject({ status: 'fixed', value: 0.85 })
      expect(newest().settings).toMatchObject(laws)
      expect(newest().runIds).toEqual(held.runIds)
      expect(newest().runIds).not.toContain(freeRun)

      await page.getByLabel('Compared with').selectOption(String(before))
      await expect.poll(() => new URL(page.url()).searchParams.get('with')).toBe(String(before))
      const table = page.getByRole('region', { name: 'Parameters' })
      const row = table.getByRole('row', { name: /Winding resistance/ })
      await expect.poll(() => row.textContent()).toMatch(/Ω compared, here [+−][\d.]+\s%/)
      await page.goBack()
      await expect.poll(() => row.textContent()).not.toContain('compared')
      expect(faults).toEqual([])
    },
    2 * FIT_MS + 30_000,
  )
})
