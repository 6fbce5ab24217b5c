import { mkdirSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Store } from '../../server/store/store.ts'
import { practiceHeatingRun } from '../../src/practice-rig/heating-run.ts'
import {
  identifyInStore,
  logPracticeSuite,
  type StoreFolder,
  storeFolder,
  storeRun,
  testStore,
} from '../http/support/practice-store.ts'
import { stillBench, type StillBench } from '../http/support/still-bench.ts'
import { startTestServer, type TestServer } from '../http/support/test-server.ts'
import { practiceMotor } from '../support/practice.ts'
import { violations } from './support/accessibility.ts'
import { benchScenes } from './support/bench-scenes.ts'
import { BROWSER, launchBrowser, sayWithoutBrowser, type Visit, visit } from './support/browser.ts'
import { buildPage } from './support/page-build.ts'

sayWithoutBrowser()

const SHOTS = fileURLToPath(new URL('../../test-output/screenshots/', import.meta.url))
const EXAMPLES = fileURLToPath(new URL('../../datasets/examples/', import.meta.url))
const SIZES = [
  { width: 1280, height: 900 },
  { width: 800, height: 1000 },
] as const
const SCHEMES = ['light', 'dark'] as const

/** What a visitor may see, by the words that are there once it is drawn. */
const VIEWS: readonly {
  name: string
  path: string
  ready: string
  scene?: string
  /** What a visitor does first. */
  act?: (page: Page) => Promise<void>
}[] = [
  { name: 'bench-ports', path: '/bench', ready: 'Which rig?', scene: 'none' },
  { name: 'bench-ready', path: '/bench', ready: 'Which motor is on the bench?', scene: 'ready' },
  { name: 'bench-cautions', path: '/bench', ready: 'Rotating parts catch', scene: 'cautions' },
  { name: 'bench-question', path: '/bench', ready: 'step 6 of 12', scene: 'question' },
  { name: 'bench-testing', path: '/bench', ready: 'step 8 of 12', scene: 'testing' },
  { name: 'bench-paused', path: '/bench', ready: 'Go on', scene: 'paused' },
  { name: 'bench-lost', path: '/bench', ready: 'Connect again', scene: 'lost' },
  { name: 'motors', path: '/motors', ready: 'Rotor inertia' },
  { name: 'motors-none-found', path: '/motors?find=zzz', ready: 'Show all motors' },
  { name: 'motor-runs', path: '/motors/1', ready: '12 runs' },
  { name: 'motor-new', path: '/motors/2', ready: 'No runs yet' },
  { name: 'run', path: '/runs/8', ready: 'Speed, rpm' },
  { name: 'run-zoomed', path: '/runs/8?from=1.2&to=1.5', ready: 'Speed, rpm' },
  { name: 'parameters', path: '/motors/1/parameters', ready: 'What the uncertainties are made of' },
  {
    name: 'parameters-compared',
    path: '/motors/1/parameters?fit=2&with=1',
    ready: 'What the uncertainties are made of',
  },
  { name: 'curves', path: '/motors/1/curves', ready: 'Four quadrants' },
  { name: 'drive', path: '/motors/1/drive', ready: 'Converter bits' },
  {
    name: 'drive-faulty',
    path: '/motors/1/drive',
    ready: 'A field needs a look',
    act: async page => {
      await page.getByLabel('Highest voltage, V').fill('3')
      await page.getByLabel('Capacitance, µF').fill('-')
    },
  },
  { name: 'drive-unknown-motor', path: '/motors/2/drive', ready: 'Nothing to withstand yet' },
  { name: 'heat', path: '/motors/3/heat?stall=3', ready: 'Winding, housing, air' },
  { name: 'heat-none', path: '/motors/2/heat', ready: 'No heating run yet' },
  { name: 'recognise', path: '/motors/1/recognise', ready: 'What the tests show' },
  { name: 'recognise-none', path: '/motors/2/recognise', ready: 'Nothing to judge by yet' },
  { name: 'sheet', path: '/motors/1/sheet', ready: 'Motor sheet' },
  { name: 'import', path: '/import', ready: 'Drop a recording here' },
  {
    name: 'import-preview',
    path: '/import?motor=Hazelnut',
    ready: 'Store this run',
    act: async page => {
      await page.locator('input[type=file]').setInputFiles(`${EXAMPLES}hazelnut-24-run-up.csv`)
    },
  },
  {
    name: 'keys',
    path: '/motors',
    ready: 'these keys',
    act: page => page.keyboard.press('?'),
  },
  { name: 'nowhere', path: '/nowhere', ready: 'Nothing is here' },
]

describe.skipIf(BROWSER === null)('every view, at two widths and in both schemes', () => {
  let folder: StoreFolder
  let store: Store
  let server: TestServer
  let bench: StillBench
  let built: Awaited<ReturnType<typeof buildPage>>
  let browser: Browser

  beforeAll(async () => {
    mkdirSync(SHOTS, { recursive: true })
    folder = storeFolder()
    store = testStore(folder.file)
    const name = 'Fennimore, sample 3'
    await logPracticeSuite(store, 'fennimore-24', name)
    store.motors.change(store.motors.named(name).id, {
      serialNumber: 'F-00317',
      lot: 'K-2291',
      nameplate: '24 V  1.4 A  4300 1/min',
    })
    identifyInStore(store, name)
    identifyInStore(store, name, { referenceTemperatureCelsius: 60 })
    store.motors.add({ name: 'Unlabelled, grey housing', lot: 'B-17' })
    const warmed = store.motors.add({ name: 'Peppercorn, warmed' })
    await storeRun(store, warmed.id, practiceHeatingRun(practiceMotor('peppercorn-3'), 21))
    bench = stillBench()
    built = await buildPage()
    server = await startTestServer(store, bench, { pageFolder: built.folder })
    browser = await launchBrowser()
  })
  afterAll(async () => {
    await browser?.close()
    await server?.close()
    store?.close()
    built?.remove()
    folder?.remove()
  })

  let seen: Visit
  beforeAll(async () => {
    seen = await visit(browser)
    await seen.page.goto(server.server.entryUrl())
  })

  test.each(VIEWS)('$name', async ({ name, path, ready, scene, act }) => {
    const { page, faults } = seen
    faults.length = 0
    benchScenes[scene ?? 'none']!.set(bench)
    await page.setViewportSize(SIZES[0])
    await page.emulateMedia({ colorScheme: 'light' })
    await page.goto(server.origin + path)
    await page.locator('h1').first().waitFor()
    await act?.(page)
    await page.getByText(ready).first().waitFor()
    expect(await dataRequests(page)).toBeLessThanOrEqual(1)
    benchScenes[scene ?? 'none']!.play(bench)
    await page.evaluate('document.fonts.ready')
    for (const size of SIZES) {
      await page.setViewportSize(size)
      for (const scheme of SCHEMES) {
        await page.emulateMedia({ colorScheme: scheme })
        // Nothing is wider than the screen.
        expect(await page.evaluate('document.documentElement.scrollWidth')).toBeLessThanOrEqual(
          size.width,
        )
        await shoot(page, `${name}-${size.width}-${scheme}`, size)
        // One scheme a width: contrast is a matter of the scheme, order and labels are not.
        if ((size.width === SIZES[0].width) === (scheme === 'light')) {
          expect(await violations(page, scheme === 'light' ? 'all' : 'dress')).toEqual([])
        }
      }
    }
    expect(faults).toEqual([])
  })
})

/** How often the view asked for data: who is looking and what the bench streams are asked for by every view. */
const dataRequests = (page: Page) =>
  page.evaluate(
    () =>
      performance
        .getEntriesByType('resource')
        .map(({ name }) => new URL(name).pathname)
        .filter(path => path.startsWith('/api/') && !/\/(session|bench)$/.test(path)).length,
  )

const LONGEST_SHOT = 2600

/** The whole view on a screen as long as it takes, with the rail at its foot. */
async function shoot(page: Page, name: string, size: { width: number; height: number }) {
  const full = Number(await page.evaluate('document.documentElement.scrollHeight'))
  await page.setViewportSize({
    width: size.width,
    height: Math.max(size.height, Math.min(full, LONGEST_SHOT)),
  })
  await page.waitForTimeout(60)
  await page.screenshot({ path: `${SHOTS}${name}.png` })
  await page.setViewportSize(size)
}
