import { mkdirSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { loadPracticeMotor } from '../../server/rig-host/motor-file.ts'
import { practiceRun } from '../../src/practice-rig/practice-run.ts'
import { storeRun } from '../http/support/practice-store.ts'
import { fillApprovedType } from '../support/approved-type.ts'
import { fitOf } from '../support/fit-documents.ts'
import { practiceMotor } from '../support/practice.ts'
import { violations } from './support/accessibility.ts'
import { BROWSER, launchBrowser, sayWithoutBrowser, type Visit, visit } from './support/browser.ts'
import { openPracticeBench, type PracticeBench } from './support/practice-bench.ts'

sayWithoutBrowser()

const SHOTS = fileURLToPath(new URL('../../test-output/screenshots/', import.meta.url))
const TEST_MS = 120_000

describe.skipIf(BROWSER === null)('production samples at the bench', () => {
  let bench: PracticeBench
  let browser: Browser
  let seen: Visit
  let page: Page
  let type: number

  beforeAll(async () => {
    mkdirSync(SHOTS, { recursive: true })
    bench = await openPracticeBench()
    type = fillApprovedType(bench.store, await loadPracticeMotor(null))
    browser = await launchBrowser()
    seen = await visit(browser)
    page = seen.page
    await page.goto(bench.served.entryUrl('/bench'))
    await page.getByRole('button', { name: /practice/i }).click()
    await page.getByText('Which motor is on the bench?').waitFor({ timeout: 20_000 })
  }, 120_000)
  afterAll(async () => {
    await browser?.close()
    await bench?.close()
  })

  const toSamples = async (place = '') => {
    await page.getByRole('link', { name: 'Samples' }).first().click()
    await page.getByRole('heading', { name: 'Samples' }).waitFor()
    if (place !== '') await page.goto(`${bench.origin}/samples${place}`)
  }

  test('make a batch, scan a serial number, run, verdict, next', async () => {
    await toSamples()
    await page.getByText('No batch yet').waitFor()
    expect(bench.store.batches.list()).toEqual([])
    await page.getByLabel('Name of the new batch of BR-12').fill('delivery 12')
    await page.getByRole('button', { name: 'Make the batch' }).click()
    await page.getByText('No samples yet').waitFor()
    expect(await violations(page)).toEqual([])

    const scan = page.getByLabel('Serial number (scan or type)')
    await scan.click()
    await page.keyboard.type('S1')
    await page.keyboard.press('Enter')
    await page.getByRole('region', { name: 'Sample S1' }).waitFor()
    // The heat that the winding takes is not known of an imported reference.
    await page.getByText('of one motor').first().waitFor()
    await page.getByLabel('Mass of one motor').fill('250')
    await page.getByText('s of driving, locked at').waitFor()
    await page.getByLabel('Who tests').fill('Ada')
    expect(await violations(page)).toEqual([])
    const run = page.getByRole('button', { name: 'Run the short test of S1' })
    const verdict = page.getByText('1 pass').first()
    const early = page.getByRole('region', { name: 'Short test of S1' }).getByText('Ended early')
    const untilMs = Date.now() + TEST_MS
    // On a busy machine the watch may end a test: an operator starts it again.
    do {
      await run.click()
      await page.getByRole('progressbar', { name: 'Short test' }).waitFor()
      await run.waitFor({ state: 'detached' })
      await page.screenshot({ path: `${SHOTS}samples-short-test.png` })
      await verdict.or(early).first().waitFor({ timeout: TEST_MS })
    } while (!(await verdict.isVisible()) && Date.now() < untilMs)
    await verdict.waitFor()
    // The next scan needs no hand on the keyboard.
    await expect.poll(() => page.evaluate('document.activeElement?.tagName')).toBe('INPUT')
    await page.keyboard.type('S2')
    await page.keyboard.press('Enter')
    await page.getByRole('region', { name: 'Sample S2' }).waitFor()
    expect(bench.store.batches.named('delivery 12').motorIds).toHaveLength(2)
    expect(await violations(page)).toEqual([])
    expect(seen.faults).toEqual([])
  }, 300_000)

  test('stop ends a short test: what was logged is kept, and nothing is judged', async () => {
    await page.getByRole('button', { name: 'Run the short test of S2' }).click()
    await expect
      .poll(() => bench.store.runs.list().some(run => run.ending === 'open'), {
        timeout: 20_000,
        interval: 20,
      })
      .toBe(true)
    await page.keyboard.press('Escape')
    const now = page.getByRole('region', { name: 'Short test of S2' })
    await now.getByText('Ended early').waitFor()
    expect(await now.textContent()).toContain('is kept')
    expect(bench.store.fits.latest(bench.store.motors.named('S2').id)).toBeNull()
    await now.getByRole('button', { name: 'Put away' }).click()
    await now.waitFor({ state: 'detached' })
    expect(seen.faults).toEqual([])
  }, 60_000)

  test('the decision rule is chosen, and the verdicts follow; so do charts and reports', async () => {
    await page.getByLabel('Decision rule').selectOption('simple acceptance')
    await expect.poll(() => new URL(page.url()).searchParams.get('rule')).toBe('simple')
    const link = page.getByRole('link', { name: 'Report JSON' })
    await expect.poll(() => link.getAttribute('href')).toContain('rule=simple')
    const report = (await (
      await page.request.get(bench.origin + (await link.getAttribute('href')))
    ).json()) as { rule: { kind: string } }
    expect(report.rule.kind).toBe('simple')
    expect(seen.faults).toEqual([])
  }, 30_000)

  test('all samples are identified anew, with progress, and it can be cancelled', async () => {
    const { store } = bench
    const batch = store.batches.add({ name: 'old lot', typeId: type }).id
    for (let i = 0; i < 6; i++) {
      const motor = store.motors.add({ name: `old ${i}`, typeId: type, serialNumber: `O${i}` }).id
      const run = practiceRun(practiceMotor('dormouse-12'), 'locked-rotor', i, { rateHz: 2000 })
      await storeRun(store, motor, run)
      store.batches.include(batch, motor)
    }
    await page.goto(`${bench.origin}/samples?batch=${batch}`)
    const again = page.getByRole('button', { name: 'Identify all samples anew' })
    await again.click()
    await page.getByRole('progressbar', { name: 'Identifying anew' }).waitFor()
    await page.getByRole('button', { name: 'Cancel' }).click()
    await page.getByText('Cancelled; samples that were done').waitFor()
    await again.click()
    await page.getByText('6 of 6 samples were identified anew').waitFor({ timeout: TEST_MS })
    expect(store.fits.latest(store.motors.named('old 5').id)).not.toBeNull()
    expect(seen.faults).toEqual([])
  }, 180_000)

  test('a gauge study is led: plan, next measurement, result as picture and table', async () => {
    const { store } = bench
    const motors = [1, 2, 3].map(
      i => store.motors.add({ name: `part ${i}`, typeId: type, serialNumber: `P${i}` }).id,
    )
    const identify = (motorId: number, by: number) =>
      store.fits.add({
        motorId,
        runIds: [],
        document: fitOf(store.motors.get(motorId).name, 1 + 0.02 * motorId + by, 1e-3 * (1 + by)),
        settings: {},
        inputsHash: '',
      })
    await page.goto(`${bench.origin}/samples`)
    await page.getByRole('link', { name: 'Gauge study' }).click()
    await page.getByLabel('Name of the study').fill('spring')
    await page.getByLabel('Operators, one a line').fill('Ada\nBen')
    for (const i of [1, 2, 3]) await page.getByLabel(`part ${i}`, { exact: true }).check()
    await page.getByText('2 operators × 3 motors × 2 trials = 12 short tests').waitFor()
    expect(await violations(page)).toEqual([])
    await page.screenshot({ path: `${SHOTS}study-plan.png`, fullPage: true })
    await page.getByRole('button', { name: 'Begin' }).click()
    await page.getByText('0 of 12 done').waitFor()
    await page.screenshot({ path: `${SHOTS}study-next.png`, fullPage: true })

    // Identified elsewhere, and counted one after the other.
    for (let done = 0; done < 12; done++) {
      const next = await page.locator('.study-next').textContent()
      const part = Number(/part (\d)/.exec(next ?? '')![1])
      identify(motors[part - 1]!, 0.002 * Math.sin(7 * done))
      await page.reload()
      await page.getByRole('button', { name: 'Count its newest identification' }).click()
      await page.getByText(`${done + 1} of 12 done`).waitFor()
    }
    await page.getByText('All measurements are made').waitFor()
    await page.getByLabel('Quantity').selectOption('Winding resistance')
    await page.getByText('classes of motor apart').waitFor()
    await page
      .getByRole('row', { name: /Repeatability/ })
      .first()
      .waitFor()
    expect(await violations(page)).toEqual([])
    for (const width of [1280, 800]) {
      await page.setViewportSize({ width, height: 1500 })
      for (const scheme of ['light', 'dark'] as const) {
        await page.emulateMedia({ colorScheme: scheme })
        expect(await page.evaluate('document.documentElement.scrollWidth')).toBeLessThanOrEqual(
          width,
        )
        await page.screenshot({ path: `${SHOTS}study-${width}-${scheme}.png` })
      }
    }
    expect(seen.faults).toEqual([])
  }, 240_000)
})
