import { readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { BROWSER, launchBrowser, sayWithoutBrowser, type Visit, visit } from './support/browser.ts'
import { openPracticeBench, type PracticeBench } from './support/practice-bench.ts'

sayWithoutBrowser()

const EXAMPLES = fileURLToPath(new URL('../../datasets/examples/', import.meta.url))
const SEQUENCE_MS = 400_000

describe.skipIf(BROWSER === null)('journeys through the whole program', () => {
  let bench: PracticeBench
  let browser: Browser
  let seen: Visit
  let page: Page

  beforeAll(async () => {
    bench = await openPracticeBench()
    browser = await launchBrowser()
    seen = await visit(browser)
    page = seen.page
    await page.goto(bench.served.entryUrl('/motors'))
  })
  afterAll(async () => {
    await browser?.close()
    await bench?.close()
  })

  async function importFile(file: string, motor: string) {
    await page.goto(`${bench.origin}/import?motor=${encodeURIComponent(motor)}`)
    await page.locator('input[type=file]').setInputFiles(EXAMPLES + file)
    await page.getByRole('button', { name: 'Store this run' }).click()
    await expect.poll(() => page.url(), { timeout: 20_000 }).toMatch(/\/runs\/\d+$/)
    await page
      .getByRole('heading', { name: /, (V|A|rpm)$/ })
      .first()
      .waitFor()
  }

  test('recordings made elsewhere: import, identify, curves, sheet', async () => {
    const kinds = ['locked-rotor', 'free-run', 'run-up', 'coast-down']
    for (const kind of kinds) await importFile(`hazelnut-24-${kind}.csv`, 'Hazelnut, bought')
    expect(
      bench.store.runs
        .list()
        .map(run => run.kind)
        .sort(),
    ).toEqual([...kinds].sort())

    await page.getByRole('link', { name: 'Hazelnut, bought' }).click()
    await page.getByRole('link', { name: 'Identify' }).click()
    await page.getByRole('button', { name: 'Identify', exact: true }).click()
    await page.getByRole('region', { name: 'Parameters' }).waitFor({ timeout: 60_000 })
    const table = page.getByRole('region', { name: 'Parameters' })
    const { parameters } = bench.store.fits.latest(1)!.document
    expect(parameters.resistance.status).toBe('determined')
    expect(await table.getByRole('row', { name: /Winding resistance/ }).textContent()).toContain(
      'Ω',
    )

    await page.getByRole('link', { name: 'Curves' }).click()
    const voltage = page.getByRole('slider', { name: 'Voltage' })
    const point = page.getByRole('region', { name: 'Operating point' })
    const before = await point.textContent()
    await voltage.focus()
    for (let i = 0; i < 10; i++) await page.keyboard.press('ArrowLeft')
    await expect.poll(() => point.textContent()).not.toBe(before)
    await expect.poll(() => new URL(page.url()).searchParams.get('volt')).not.toBeNull()
    // The address is what is on screen: for whoever it is given to, and where it is left.
    const dragged = await point.textContent()
    expect(new URL(page.url()).searchParams.get('volt')).toBe(await voltage.inputValue())
    await page.reload()
    await expect.poll(() => point.textContent()).toBe(dragged)
    await page.getByRole('link', { name: 'Curves' }).click()
    await expect.poll(() => point.textContent()).toBe(before)

    await page.getByRole('link', { name: 'Sheet' }).click()
    await page.getByText('Motor sheet').waitFor()
    for (const [paper, box] of [
      ['a4', [595, 842]],
      ['letter', [612, 792]],
    ] as const) {
      await page.getByLabel('Paper').selectOption(paper)
      const pages = await page.locator('.sheet-page').count()
      const printed = await page.pdf({ preferCSSPageSize: true })
      const sizes = [...printed.toString('latin1').matchAll(/\/MediaBox \[([\d. ]+)\]/g)].map(
        match =>
          match[1]!
            .split(' ')
            .slice(2)
            .map(side => Math.round(Number(side))),
      )
      expect(sizes).toEqual(Array.from({ length: pages }, () => box))
    }
    const [download] = await Promise.all([
      page.waitForEvent('download'),
      page.getByRole('link', { name: 'PDF' }).click(),
    ])
    expect(download.suggestedFilename()).toBe('Hazelnut-bought-sheet.pdf')
    expect(
      readFileSync(await download.path())
        .subarray(0, 5)
        .toString(),
    ).toBe('%PDF-')
  }, 120_000)

  test('a fault in a file is told with its line, and nothing is stored', async () => {
    const runs = bench.store.runs.list().length
    await page.goto(`${bench.origin}/import`)
    await page.locator('input[type=file]').setInputFiles({
      name: 'broken.csv',
      mimeType: 'text/csv',
      buffer: Buffer.from('time [s],current [A]\n0,1\n0.1,lots\n'),
    })
    await page.getByText('broken.csv:3').waitFor()
    expect(await page.getByRole('button', { name: 'Store this run' }).isDisabled()).toBe(true)
    expect(bench.store.runs.list().length).toBe(runs)
  })

  test('columns that the header does not name are chosen by hand, probes and signs included', async () => {
    await page.goto(`${bench.origin}/import?motor=by%20hand`)
    const rows = Array.from({ length: 40 }, (_, i) => `${i * 10};${-50 * i};${i % 7}`)
    await page.locator('input[type=file]').setInputFiles({
      name: 'scope.csv',
      mimeType: 'text/csv',
      buffer: Buffer.from(`t;ch2;x\n${rows.join('\n')}\n`),
    })
    await page.getByLabel('What column t holds').selectOption('time')
    await page.getByText(/has no unit/).waitFor()
    const unit = page.getByLabel('unit, or unit/scale of a probe').first()
    await unit.fill('ms')
    await unit.press('Tab')
    await page.getByLabel('What column ch2 holds').selectOption('current')
    const probe = page.getByLabel('unit, or unit/scale of a probe').nth(1)
    await probe.fill('mV/50')
    await probe.press('Tab')
    await page.getByText('−39.00 A to 0 A').waitFor()
    await page.getByLabel('Turn the sign of ch2 round').check()
    await page.getByText('0 A to 39.00 A').waitFor()
  })

  test('what a file leaves open is said by hand: its decimal sign, the time from row to row', async () => {
    await page.goto(`${bench.origin}/import`)
    await page.locator('input[type=file]').setInputFiles({
      name: 'bare.csv',
      mimeType: 'text/csv',
      buffer: Buffer.from(`voltage [V];current [mA]\n${'2;1.500\n3;1.250\n'.repeat(150)}`),
    })
    await page.getByText("'1.500' may be 1.5 or 1500").waitFor()
    await page.getByLabel('Decimal sign').selectOption('comma')
    await page.getByText('more than 200 rows and no time').waitFor()
    const interval = page.getByLabel('Seconds from row to row')
    await interval.fill('0,001')
    await interval.press('Tab')
    await page.getByText('300 rows').waitFor()
    await page.getByText('1.250 A to 1.500 A').waitFor()
  })

  test(
    'first start on a practice rig: the whole sequence, the fit, the sheet',
    async () => {
      await page.goto(`${bench.origin}/bench`)
      await page.getByRole('button', { name: /Practice rig/ }).click()
      const named = page.getByLabel('Motor', { exact: true })
      if (await named.isVisible()) await named.selectOption('')
      await page.getByLabel('Name of the new motor').fill('on the practice rig')
      await page.getByRole('button', { name: 'Start the guided sequence' }).click()
      const next = page.locator('.now .next').first()
      const end = page.getByRole('link', { name: 'See the parameters' })
      const untilMs = Date.now() + SEQUENCE_MS
      // The last of the next steps is the link itself: the click below may be the one that takes it.
      const parameters = page.getByRole('region', { name: 'Parameters' })
      const isOver = async () => (await end.isVisible()) || (await parameters.isVisible())
      while (!(await isOver()) && Date.now() < untilMs) {
        // The one next step: as somebody would who trusts what is suggested.
        if (await next.isEnabled({ timeout: 500 }).catch(() => false)) {
          await next.click({ timeout: 2000 }).catch(() => {})
        }
        await page.waitForTimeout(100)
      }
      if (await end.isVisible()) await end.click()
      await parameters.waitFor()
      const motor = bench.store.motors.named('on the practice rig')
      const fit = bench.store.fits.latest(motor.id)!.document
      for (const name of ['resistance', 'backEmfConstant', 'coulombTorque', 'inertia'] as const) {
        expect(fit.parameters[name].status, name).toBe('determined')
      }
      await page.getByRole('link', { name: 'Sheet' }).click()
      await page.getByText(/simulated: no motor was there/).waitFor()
      expect(seen.faults).toEqual([])
    },
    SEQUENCE_MS + 60_000,
  )
})
