import { readFileSync } from 'node:fs'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Store } from '../../server/store/store.ts'
import { parseDrive } from '../../src/contract/drive-document.ts'
import {
  identifyInStore,
  logPracticeSuite,
  type StoreFolder,
  storeFolder,
  testStore,
} from '../http/support/practice-store.ts'
import { stillBench } from '../http/support/still-bench.ts'
import { startTestServer, type TestServer } from '../http/support/test-server.ts'
import { BROWSER, launchBrowser, sayWithoutBrowser, type Visit, visit } from './support/browser.ts'
import { buildPage } from './support/page-build.ts'

sayWithoutBrowser()

describe.skipIf(BROWSER === null)('a drive is described and tried on a motor', () => {
  let folder: StoreFolder
  let store: Store
  let server: TestServer
  let built: Awaited<ReturnType<typeof buildPage>>
  let browser: Browser
  let seen: Visit

  beforeAll(async () => {
    folder = storeFolder()
    store = testStore(folder.file)
    await logPracticeSuite(store, 'fennimore-24', 'Fennimore')
    identifyInStore(store, 'Fennimore')
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

  test('one request for data; a change counts at once, asks nothing, and is still there after a reload', async () => {
    const { page, faults } = seen
    const asked: string[] = []
    page.on('request', request => {
      const { pathname } = new URL(request.url())
      if (/^\/api\/v1\/(?!session|events|bench)/.test(pathname)) asked.push(pathname)
    })
    await page.goto(`${server.origin}/motors/1/drive`)
    const loss = page.getByRole('row', { name: /^Conduction loss/ })
    // 8 A through 30 mΩ.
    await loss.getByText('1.920').waitFor()
    const limit = page.getByLabel('Limit, A')
    await limit.focus()
    await page.keyboard.press('Control+A')
    await page.keyboard.type('4')
    await loss.getByText('480.0').waitFor()
    await page.getByLabel('What it does').selectOption({ label: 'Drives one way' })
    await page.getByText('the drive does not brake').first().waitFor()
    expect(asked).toEqual(['/api/v1/motors/1/drive'])
    await page.reload()
    await loss.getByText('480.0').waitFor()
    // The address holds what differs from the first drive: it can be sent to somebody else.
    const { search } = new URL(page.url())
    expect(Object.fromEntries(new URLSearchParams(search))).toEqual({
      'currentLimit.limitAmp': '4',
      quadrants: '1',
    })
    await page.evaluate('localStorage.clear()')
    await page.goto(`${server.origin}/motors/1/drive${search}&bridge.pathResistanceOhm=15`)
    await loss.getByText('240.0').waitFor()
    await page.getByLabel('Switches in the path').fill('30')
    await loss.getByText('480.0').waitFor()
    expect(faults).toEqual([])
  })

  test('by keys alone: inputs and validity of a finding open', async () => {
    const { page } = seen
    const row = page.getByRole('row', { name: /^Stall and inrush current/ })
    await row.locator('summary').focus()
    await page.keyboard.press('Enter')
    await row.getByText('Holds for: full voltage').waitFor()
  })

  test('the drive leaves as the file that the command reads, and comes back', async () => {
    const { page } = seen
    const [download] = await Promise.all([
      page.waitForEvent('download'),
      page.getByRole('button', { name: 'Keep as a file' }).click(),
    ])
    const path = await download.path()
    const drive = parseDrive(JSON.parse(readFileSync(path, 'utf8')))
    expect(drive).toMatchObject({
      ok: true,
      value: { quadrants: 1, currentLimit: { limitAmp: 4 } },
    })
    await page.getByLabel('Limit, A').fill('5')
    await page.locator('.file-button input').setInputFiles(path)
    await page
      .getByRole('row', { name: /^Conduction loss/ })
      .getByText('480.0')
      .waitFor()
    await page
      .locator('.file-button input')
      .setInputFiles({ name: 'x.json', mimeType: 'application/json', buffer: Buffer.from('{}') })
    await page.getByText('x.json: supply: is missing').waitFor()
  })
})
