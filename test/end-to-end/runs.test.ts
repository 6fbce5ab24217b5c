import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Store } from '../../server/store/store.ts'
import {
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

describe.skipIf(BROWSER === null)('motors and runs in a browser', () => {
  let folder: StoreFolder
  let store: Store
  let server: TestServer
  let built: Awaited<ReturnType<typeof buildPage>>
  let browser: Browser
  let seen: Visit
  let freeRun: number
  let runCount: number

  beforeAll(async () => {
    folder = storeFolder()
    store = testStore(folder.file)
    const ids = await logPracticeSuite(store, 'fennimore-24', 'Fennimore, sample 3')
    runCount = ids.length
    freeRun = ids.find(id => store.runs.get(id).kind === 'free-run')!
    store.motors.add({ name: '<img src=x onerror=alert(1)> "grey"', lot: 'B-17' })
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

  test('the page asks nothing of anyone but its own server, and breaks no rule of its policy', async () => {
    const { page, hosts, faults } = seen
    for (const path of ['/bench', '/motors', '/motors/1', `/runs/${freeRun}`, '/import']) {
      await page.goto(server.origin + path)
      await page.locator('h1').waitFor()
    }
    expect([...hosts]).toEqual([new URL(server.origin).host])
    expect(faults).toEqual([])
  })

  test('a motor with script in its name is text, not script', async () => {
    const { page, faults } = seen
    await page.goto(`${server.origin}/motors`)
    await page.getByRole('heading', { name: '<img src=x onerror=alert(1)> "grey"' }).waitFor()
    expect(faults).toEqual([])
  })

  test('an address of something that is not there says so, and where to go', async () => {
    const { page, faults } = seen
    for (const path of ['/motors/99', '/motors/99/curves', '/motors/99/sheet', '/runs/999']) {
      await page.goto(server.origin + path)
      await page.getByRole('heading', { name: 'Nothing to show' }).waitFor()
      expect(await page.getByRole('link', { name: 'All motors' }).isVisible()).toBe(true)
    }
    // The browser notes each answer 404 by itself.
    expect(faults.filter(fault => !fault.includes('404'))).toEqual([])
    faults.length = 0
  })

  test('from motor to run by links, and back again', async () => {
    const { page } = seen
    await page.goto(`${server.origin}/motors`)
    await page.getByRole('link', { name: /Fennimore/ }).click()
    await page.getByRole('link', { name: 'Free run' }).click()
    await expect.poll(() => page.url()).toBe(`${server.origin}/runs/${freeRun}`)
    await page.getByRole('heading', { name: 'Speed, rpm' }).waitFor()
    await page.goBack()
    await expect.poll(() => page.url()).toBe(`${server.origin}/motors/1`)
    await page.getByRole('heading', { name: `${runCount} runs` }).waitFor()
  })

  test('zooming is in the address, and back undoes it', async () => {
    const { page } = seen
    await page.goto(`${server.origin}/runs/${freeRun}`)
    const chart = page.getByRole('img', { name: /^Speed in rpm/ })
    const box = (await chart.boundingBox())!
    await page.mouse.move(box.x + box.width * 0.4, box.y + 40)
    await page.mouse.down()
    await page.mouse.move(box.x + box.width * 0.6, box.y + 40, { steps: 4 })
    await page.mouse.up()
    await expect.poll(() => new URL(page.url()).searchParams.has('from')).toBe(true)
    const { searchParams } = new URL(page.url())
    const [from, to] = [Number(searchParams.get('from')), Number(searchParams.get('to'))]
    expect(to - from).toBeGreaterThan(0.3)
    expect(to - from).toBeLessThan(0.7)
    await page.goBack()
    await expect.poll(() => page.url()).toBe(`${server.origin}/runs/${freeRun}`)
  })

  test('the same by keys: in, along, whole', async () => {
    const { page } = seen
    await page.goto(`${server.origin}/runs/${freeRun}`)
    await page.getByRole('img', { name: /^Speed in rpm/ }).waitFor()
    const span = () => {
      const { searchParams } = new URL(page.url())
      return [Number(searchParams.get('from')), Number(searchParams.get('to'))]
    }
    await page.keyboard.press('+')
    await expect.poll(() => span()[1]).toBeGreaterThan(0)
    const [from] = span()
    await page.keyboard.press('ArrowRight')
    await expect.poll(() => span()[0]).toBeGreaterThan(from!)
    await page.keyboard.press('0')
    await expect.poll(() => page.url()).toBe(`${server.origin}/runs/${freeRun}`)
    await page.keyboard.press(']')
    await expect.poll(() => page.url()).toBe(`${server.origin}/runs/${freeRun + 1}`)
  })

  test('two cursors tell their difference, and what lies between can be left out of fits', async () => {
    const { page } = seen
    await page.goto(`${server.origin}/runs/${freeRun + 1}`)
    const box = (await page.getByRole('img', { name: /^Speed in rpm/ }).boundingBox())!
    await page.mouse.click(box.x + box.width * 0.3, box.y + 40)
    await page.keyboard.down('Shift')
    await page.mouse.click(box.x + box.width * 0.6, box.y + 40)
    await page.keyboard.up('Shift')
    const table = page.getByRole('region', { name: 'Cursors' })
    await table.getByRole('columnheader', { name: 'B − A' }).waitFor()
    const rows = await table.getByRole('rowheader').allTextContents()
    expect(rows[0]).toBe('Time, s')
    expect(rows.slice(1).every(text => /, \S+$/.test(text))).toBe(true)
    const atB = () => Number(new URL(page.url()).searchParams.get('b'))
    const before = atB()
    await page.keyboard.press('Shift+ArrowLeft')
    await expect.poll(atB).toBeLessThan(before)
    await page.keyboard.press('Shift+ArrowRight')
    await expect.poll(atB).toBeGreaterThanOrEqual(before)
    // Whoever is given the address sees the same readings.
    const readings = await table.textContent()
    await page.reload()
    await table.getByRole('columnheader', { name: 'B − A' }).waitFor()
    expect(await table.textContent()).toBe(readings)
    await table.getByRole('button', { name: 'Leave A to B out of fits' }).click()
    await page.getByRole('heading', { name: 'Left out of fits' }).waitFor()
    const [range] = store.runs.get(freeRun + 1).excluded
    expect(range!.to - range!.from).toBeGreaterThan(100)
    await page.getByRole('button', { name: 'Take back in' }).click()
    await expect.poll(() => store.runs.get(freeRun + 1).excluded.length).toBe(0)
  })

  test('a deleted run comes back by undo', async () => {
    const { page } = seen
    await page.goto(`${server.origin}/motors/1`)
    await page.getByRole('button', { name: 'Delete run 1', exact: true }).click()
    await page.getByRole('heading', { name: `${runCount - 1} runs` }).waitFor()
    await page.getByRole('button', { name: 'Undo' }).click()
    await page.getByRole('heading', { name: `${runCount} runs` }).waitFor()
  })

  test('the plate can be written, and found by', async () => {
    const { page } = seen
    await page.goto(`${server.origin}/motors/1`)
    await page.getByRole('button', { name: 'Write', exact: true }).click()
    await page.getByLabel('Lot').fill('K-2291')
    await page.getByRole('button', { name: 'Keep' }).click()
    await page.getByText('K-2291').waitFor()
    await page.keyboard.press('/')
    await page.locator('#find:focus').waitFor()
    await page.keyboard.type('2291')
    await expect.poll(() => new URL(page.url()).searchParams.get('find')).toBe('2291')
    await expect.poll(() => page.locator('.motor-plate').count()).toBe(1)
  })
})
