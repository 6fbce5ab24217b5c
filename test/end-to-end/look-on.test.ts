import { mkdirSync } from 'node:fs'
import { networkInterfaces } from 'node:os'
import { fileURLToPath } from 'node:url'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Store } from '../../server/store/store.ts'
import { type StoreFolder, storeFolder, testStore } from '../http/support/practice-store.ts'
import { stillBench } from '../http/support/still-bench.ts'
import { startTestServer, type TestServer } from '../http/support/test-server.ts'
import { violations } from './support/accessibility.ts'
import { BROWSER, launchBrowser, sayWithoutBrowser, type Visit, visit } from './support/browser.ts'
import { buildPage } from './support/page-build.ts'

sayWithoutBrowser()

const SHOTS = fileURLToPath(new URL('../../test-output/screenshots/', import.meta.url))
const PASSWORD = 'correct horse battery'

/** An address of this machine that is not loopback: what comes by it counts as from elsewhere. */
const outside = Object.values(networkInterfaces())
  .flatMap(list => list ?? [])
  .find(one => !one.internal && one.family === 'IPv4')?.address

describe.skipIf(BROWSER === null || !outside)('looking on from another machine', () => {
  let folder: StoreFolder
  let store: Store
  let server: TestServer
  let built: Awaited<ReturnType<typeof buildPage>>
  let browser: Browser
  let seen: Visit
  let origin: string

  beforeAll(async () => {
    mkdirSync(SHOTS, { recursive: true })
    folder = storeFolder()
    store = testStore(folder.file)
    store.motors.add({ name: 'Unlabelled, grey housing' })
    built = await buildPage()
    server = await startTestServer(store, stillBench(), {
      pageFolder: built.folder,
      host: outside!,
      password: PASSWORD,
    })
    origin = `http://${outside}:${server.server.port}`
    browser = await launchBrowser()
    seen = await visit(browser)
  })
  afterAll(async () => {
    await browser?.close()
    await server?.close()
    store?.close()
    built?.remove()
    folder?.remove()
  })

  test('the password view, at two widths and in both schemes', async () => {
    const { page, faults } = seen
    await page.goto(`${origin}/motors`)
    await page.getByRole('heading', { name: 'Look on' }).waitFor()
    for (const width of [1280, 800]) {
      await page.setViewportSize({ width, height: 900 })
      for (const scheme of ['light', 'dark'] as const) {
        await page.emulateMedia({ colorScheme: scheme })
        await page.screenshot({ path: `${SHOTS}password-${width}-${scheme}.png` })
        expect(await violations(page)).toEqual([])
      }
    }
    expect(faults).toEqual([])
  })

  test('a wrong password is told; the right one shows the motors, and nothing that changes them', async () => {
    const { page } = seen
    const field = page.getByLabel('Password')
    await field.fill('wrong')
    await page.keyboard.press('Enter')
    await page.getByText('This is not the password.').waitFor()
    expect(await violations(page)).toEqual([])
    await page.waitForTimeout(600)
    await field.fill(PASSWORD)
    await page.keyboard.press('Enter')
    await page.getByRole('heading', { name: 'Unlabelled, grey housing' }).waitFor()
    await page.getByText('You look on from another machine').waitFor()
    expect(await violations(page)).toEqual([])
  })

  test('the server ends and is started again: said, and the password is asked for anew', async () => {
    const { page } = seen
    const port = server.server.port
    await server.close()
    await page.getByText('No word from the server').waitFor()
    store.motors.add({ name: 'Meanwhile added' })
    server = await startTestServer(store, stillBench(), {
      pageFolder: built.folder,
      host: outside!,
      port,
      password: PASSWORD,
    })
    await page.getByRole('heading', { name: 'Look on' }).waitFor()
    await page.getByLabel('Password').fill(PASSWORD)
    await page.keyboard.press('Enter')
    await page.getByRole('heading', { name: 'Meanwhile added' }).waitFor()
    await page.getByText('No rig connected').waitFor()
  })
})
