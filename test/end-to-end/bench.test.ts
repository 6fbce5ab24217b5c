import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { BROWSER, launchBrowser, sayWithoutBrowser, type Visit, visit } from './support/browser.ts'
import { openPracticeBench, type PracticeBench } from './support/practice-bench.ts'

sayWithoutBrowser()

describe.skipIf(BROWSER === null)('the bench in a browser', () => {
  let bench: PracticeBench
  let browser: Browser
  let seen: Visit
  let page: Page

  beforeAll(async () => {
    bench = await openPracticeBench()
    browser = await launchBrowser()
    seen = await visit(browser)
    page = seen.page
    await page.goto(bench.served.entryUrl())
  })
  afterAll(async () => {
    await browser?.close()
    await bench?.close()
  })

  const rail = () => page.locator('.rail')
  const latestRun = () =>
    bench.store.runs.list().reduce((latest, run) => (run.id > latest.id ? run : latest))

  /** Fills in the form for one test by the operator's own numbers, and starts it. */
  async function startLockedRotor(seconds: number) {
    // A test that is tried again begins where it was left.
    if (new URL(page.url()).pathname !== '/bench') await page.goto(`${bench.origin}/bench`)
    await bench.rig().setShaft('locked', 0.3)
    const form = page.locator('details', { hasText: 'One test by your own numbers' })
    if ((await form.getAttribute('open')) === null) await form.locator('summary').click()
    const read = form.getByRole('button', { name: 'I have read and understood' })
    if (await read.isVisible()) await read.click()
    const motor = page.getByLabel('Name of the new motor')
    if (await motor.isVisible()) await motor.fill(`sample ${bench.store.motors.list().length + 1}`)
    await form.locator('select').selectOption('locked-rotor')
    await form.getByLabel('Voltage, V').fill('2')
    await form.getByLabel('Current limit, A').fill('12')
    await form.getByLabel('Duration, s').fill(String(seconds))
    await form.getByRole('button', { name: 'Log this test' }).click()
    await rail()
      .getByText(/^Locked rotor of /)
      .waitFor()
  }

  test('an empty store opens on the bench and offers the practice rig', async () => {
    await expect.poll(() => page.url()).toBe(`${bench.origin}/bench`)
    await page.getByRole('button', { name: /Practice rig/ }).click()
    await rail().getByText('Practice rig ready').waitFor()
    await page.getByText('no sample lost').waitFor()
  })

  test('live readings carry units and their limits', async () => {
    const readings = page.getByRole('region', { name: 'Readings now' })
    await expect.poll(() => readings.textContent()).toMatch(/Voltage[\s\S]*V[\s\S]*limit [\d.]+\sV/)
    await expect.poll(() => readings.textContent()).toMatch(/Speed[\s\S]*rpm[\s\S]*limit \d+\srpm/)
    const curves = page.getByRole('region', { name: 'Live curves' })
    expect(await curves.textContent()).toMatch(
      /Voltage, V[\s\S]*limit [\d.]+\sV[\s\S]*limit [\d.]+\sA[\s\S]*limit \d+\srpm/,
    )
  })

  test('stop during a locked rotor: one key, and the run says how it ended', async () => {
    await startLockedRotor(20)
    await page.keyboard.press('Escape')
    await rail().getByText('Practice rig ready').waitFor()
    await expect.poll(() => latestRun().ending).toBe('stopped')
    expect(latestRun().motorName).toBe('sample 1')
    expect(latestRun().sampleCount).toBeGreaterThan(100)
  })

  test('stop is on the screen wherever one is, and works from there', async () => {
    await startLockedRotor(20)
    await page.goto(`${bench.origin}/motors/1`)
    // A page that drives and is left has stopped the motor already.
    await expect.poll(() => latestRun().ending).toBe('stopped')
    const stop = page.getByRole('button', { name: /^Stop/ })
    for (const path of ['/motors', '/import', `/runs/${latestRun().id}`]) {
      await page.goto(bench.origin + path)
      await stop.waitFor()
      const box = (await stop.boundingBox())!
      expect(box.height).toBeGreaterThanOrEqual(44)
      expect(box.y + box.height).toBeLessThanOrEqual(900)
    }
  })

  test('moving about within the page leaves the test running; closing it stops the motor', async () => {
    await page.goto(`${bench.origin}/bench`)
    await startLockedRotor(20)
    await page.getByRole('link', { name: 'Motors', exact: true }).click()
    await page.getByRole('heading', { name: 'Motors' }).waitFor()
    await rail()
      .getByText(/^Locked rotor of /)
      .waitFor()
    expect(latestRun().ending).toBe('open')
    await page.close()
    await expect.poll(() => latestRun().ending).toBe('stopped')
    expect(latestRun().endingText).toContain('closed')
    page = await seen.context.newPage()
    await page.goto(`${bench.origin}/bench`)
  })

  test('a second page looks on, and may stop', async () => {
    await startLockedRotor(20)
    const second = await seen.context.newPage()
    await second.goto(`${bench.origin}/bench`)
    await second.getByText('Another page drives this bench').waitFor()
    await second.getByRole('button', { name: 'Take over' }).waitFor()
    await second.getByRole('button', { name: /^Stop/ }).click()
    await expect.poll(() => latestRun().ending).toBe('stopped')
    await second.close()
    await rail().getByText('Practice rig ready').waitFor()
  })

  test('with as many pages open as a browser has connections, stop works from each of them', async () => {
    const many = []
    for (let n = 0; n < 5; n++) {
      const one = await seen.context.newPage()
      await one.goto(`${bench.origin}/motors`)
      await one.getByRole('heading', { name: 'Motors', level: 1 }).waitFor()
      many.push(one)
    }
    await many[0]!.locator('.rail').getByText('This page rests').waitFor()
    await startLockedRotor(20)
    await many[0]!.keyboard.press('Escape')
    await expect.poll(() => latestRun().ending).toBe('stopped')
    // Whoever turns to it wakes it.
    await many[0]!.locator('.rail').getByText('Practice rig ready').waitFor()
    for (const one of many) await one.close()
    await rail().getByText('Practice rig ready').waitFor()
  }, 60_000)

  test('the cable is pulled in mid-run: said at once, and connected again by one button', async () => {
    await startLockedRotor(20)
    await bench.rig().do({ act: 'unplug' })
    await rail().getByText('Link lost').waitFor()
    await expect.poll(() => latestRun().ending).toBe('link-lost')
    // What was read last is not what is now.
    const readings = page.getByRole('region', { name: 'Readings now' })
    await expect.poll(() => readings.locator('.value').allTextContents()).toEqual(['–', '–', '–'])
    const [refused] = await Promise.all([
      page.waitForResponse(/\/reconnect$/),
      page.getByRole('button', { name: 'Connect again' }).click(),
    ])
    expect(refused.ok()).toBe(false)
    await expect.poll(() => rail().textContent()).toMatch(/Link lost.*is lost/)
    // The browser notes the refusal by itself.
    seen.faults.length = 0
    await bench.rig().do({ act: 'plug' })
    await page.getByRole('button', { name: 'Connect again' }).click()
    await rail().getByText('Practice rig ready').waitFor()
  })

  test('the link lost within the sequence: one way back, the cautions anew, on from the same step', async () => {
    await page.locator('.now select').selectOption('')
    await page.getByLabel('Name of the new motor').fill('in sequence')
    await page.keyboard.press('Enter')
    const now = page.getByRole('region', { name: 'What to do now' })
    const cautions = page.getByText('Rotating parts catch')
    const read = page.getByRole('button', { name: 'I have read and understood the cautions' })
    await cautions.waitFor()
    await read.click()
    await now.getByText('How warm is the air').first().waitFor()
    await bench.rig().do({ act: 'unplug' })
    await rail().getByText('Link lost').waitFor()
    expect(await page.locator('main .first').allTextContents()).toEqual(['Connect again'])
    await bench.rig().do({ act: 'plug' })
    await page.getByRole('button', { name: 'Connect again' }).click()
    await cautions.waitFor()
    await read.click()
    await now.getByText('How warm is the air').first().waitFor()
    await page.getByRole('button', { name: 'Leave for later' }).click()
    await page.getByText('Which motor is on the bench?').waitFor()
  })

  test('a port that the system does not list is opened by its path, at its rate', async () => {
    await page.getByRole('button', { name: 'Disconnect' }).click()
    await page.getByText('Which rig?').waitFor()
    const typed = page.locator('details', { hasText: 'A port by its path' })
    if ((await typed.getAttribute('open')) === null) await typed.locator('summary').click()
    await page.getByLabel('Path of the port').fill('practice')
    await page.getByLabel('Rate, baud').fill('230400')
    await page.keyboard.press('Enter')
    await rail().getByText('Practice rig ready').waitFor()
    expect(bench.asked()).toEqual({ port: 'practice', baud: 230_400 })
  })

  test('nothing went wrong in the page itself', () => {
    expect(seen.faults).toEqual([])
  })
})
