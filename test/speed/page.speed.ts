import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { CDPSession, Page } from 'playwright-core'
import { ENVELOPES_PER_SEC } from '../../server/session/envelopes.ts'
import { openStore } from '../../server/store/open-store.ts'
import { benchScenes } from '../end-to-end/support/bench-scenes.ts'
import { BROWSER, launchBrowser, visit } from '../end-to-end/support/browser.ts'
import { buildPage } from '../end-to-end/support/page-build.ts'
import { type StillBench, stillBench } from '../http/support/still-bench.ts'
import { startTestServer } from '../http/support/test-server.ts'
import { countBlock, newRun } from '../support/sample-runs.ts'
import type { SpeedRow } from './section.ts'

const SAMPLES = 1e7
const BLOCK_SAMPLES = 1000
const FRAME_MS = 8
const ACTION_MS = 100
const LOAD_MS = 1000
const WATCHED_SEC = 8

/**
 * The page in a real browser: how soon it is there, what a frame costs while a test runs, and how soon it
 * answers. Work is processor time of the page's own thread; what elapsed is what a person waits.
 */
export async function measure(): Promise<SpeedRow[]> {
  if (BROWSER === null) throw new Error('no Chromium, Chrome or Edge is installed')
  const folder = mkdtempSync(join(tmpdir(), 'rotorfit-speed-'))
  const store = openStore(join(folder, 'store.rotorfit'), { now: Date.now })
  const motorId = store.motors.add({ name: 'M' }).id
  const writer = store.runs.begin(newRun(motorId))
  for (let first = 0; first < SAMPLES; first += BLOCK_SAMPLES) {
    writer.samples(countBlock(first, BLOCK_SAMPLES))
    writer.commit()
  }
  writer.finish('complete', '', null)
  const bench = stillBench()
  const built = await buildPage()
  const server = await startTestServer(store, bench, { pageFolder: built.folder })
  const browser = await launchBrowser()
  try {
    const { page } = await visit(browser)
    await page.goto(server.server.entryUrl())
    return [
      await loading(page, server.origin),
      ...(await frames(page, server.origin, bench)),
      await acting(page, server.origin),
      ...(await zooming(page, server.origin, writer.runId)),
    ]
  } finally {
    await browser.close()
    await server.close()
    store.close()
    built.remove()
    rmSync(folder, { recursive: true })
  }
}

const LOADS = 7

/** From an empty cache to what the view has to say: the median of several, for other programs take turns too. */
async function loading(page: Page, origin: string): Promise<SpeedRow> {
  const cdp = await page.context().newCDPSession(page)
  const all: number[] = []
  for (let i = 0; i < LOADS; i++) {
    await cdp.send('Network.clearBrowserCache')
    const start = performance.now()
    await page.goto(`${origin}/motors`)
    await page.getByRole('heading', { name: 'M', exact: true }).waitFor()
    all.push(performance.now() - start)
  }
  await cdp.detach()
  const ms = all.sort((x, y) => x - y)[Math.floor(LOADS / 2)]!
  return {
    what: 'motors on screen, loopback, nothing in the cache',
    value: ms,
    unit: 'ms elapsed',
    against: `${LOAD_MS} ms`,
    ratio: ms / LOAD_MS,
    goal: { most: 1 },
  }
}

async function frames(page: Page, origin: string, bench: StillBench): Promise<SpeedRow[]> {
  const scene = benchScenes.testing!
  scene.set(bench)
  await page.goto(`${origin}/bench`)
  await page.getByText('step 8 of 12').waitFor()
  scene.play(bench)
  const cdp = await page.context().newCDPSession(page)
  await cdp.send('Performance.enable', { timeDomain: 'threadTicks' })
  await page.evaluate(`
    window.shown = 0
    const count = () => { window.shown++; requestAnimationFrame(count) }
    requestAnimationFrame(count)
  `)
  const before = await work(cdp)
  const shownBefore = Number(await page.evaluate('shown'))
  const start = performance.now()
  let told = 0
  while (performance.now() - start < 1000 * WATCHED_SEC) {
    tellEnvelope(bench, 12 + told++ / ENVELOPES_PER_SEC)
    const due = start + (1000 * told) / ENVELOPES_PER_SEC
    await new Promise(resolve => setTimeout(resolve, Math.max(0, due - performance.now())))
  }
  const count = Number(await page.evaluate('shown')) - shownBefore
  const perFrame = (1000 * ((await work(cdp)) - before)) / count
  const heavy = (1000 * ((await work(cdp)) - before)) / told
  await cdp.detach()
  const row = (what: string, ms: number, goal: boolean): SpeedRow => ({
    what,
    value: ms,
    unit: 'CPU ms',
    against: `${FRAME_MS} ms`,
    ratio: ms / FRAME_MS,
    ...(goal && { goal: { most: 1 } }),
  })
  return [
    row('work of a frame while 10 000 samples/s arrive, mean', perFrame, true),
    row('the same by envelopes that arrived, were every one drawn apart', heavy, true),
  ]
}

async function work(cdp: CDPSession): Promise<number> {
  const { metrics } = await cdp.send('Performance.getMetrics')
  return metrics.find(metric => metric.name === 'TaskDuration')!.value
}

/** As a session sends them at any rate of samples: extremes and mean of each channel. */
function tellEnvelope(bench: StillBench, toSec: number): void {
  const wave = Math.sin(toSec * 3)
  const channel = (quantity: 'voltage' | 'current' | 'speed', mean: number, half: number) => ({
    quantity,
    low: mean - half,
    mean,
    high: mean + half,
  })
  bench.tell({
    type: 'live',
    event: {
      type: 'envelope',
      runId: 9,
      fromSec: toSec - 1 / ENVELOPES_PER_SEC,
      toSec,
      channels: [
        channel('voltage', 24 + 0.1 * wave, 0.05),
        channel('current', 0.4 + 0.1 * wave, 0.1),
        channel('speed', 440 + 5 * wave, 1),
      ],
    },
  })
}

/** The slowest of some things that people do, from the press to the frame that shows it. */
async function acting(page: Page, origin: string): Promise<SpeedRow> {
  await page.goto(`${origin}/motors`)
  await page.getByRole('heading', { name: 'M', exact: true }).waitFor()
  await page.evaluate(`
    window.slowest = 0
    new PerformanceObserver(list => {
      for (const entry of list.getEntries()) window.slowest = Math.max(window.slowest, entry.duration)
    }).observe({ type: 'event', durationThreshold: 16, buffered: false })
  `)
  await page.keyboard.press('?')
  await page.getByText('these keys').waitFor()
  await page.keyboard.press('Escape')
  await page.getByRole('link', { name: 'Samples' }).first().click()
  await page.getByRole('heading', { name: 'No type to judge by yet' }).waitFor()
  await page.goBack()
  await page.getByRole('heading', { name: 'M', exact: true }).click()
  await page.keyboard.press('/')
  await page.keyboard.type('M')
  await page.getByRole('heading', { name: 'M', exact: true }).waitFor()
  await page.waitForTimeout(300)
  const ms = Number(await page.evaluate('slowest'))
  return {
    what: 'slowest of keys, links, help and search, to the next frame',
    value: ms,
    unit: 'ms elapsed',
    against: `${ACTION_MS} ms`,
    ratio: ms / ACTION_MS,
    goal: { most: 1 },
  }
}

/** A long run: curves follow the hand at once with what is there, finer samples come after. */
async function zooming(page: Page, origin: string, run: number): Promise<SpeedRow[]> {
  await page.goto(`${origin}/runs/${run}`)
  await page.getByRole('img', { name: /^Current in/ }).waitFor()
  const cdp = await page.context().newCDPSession(page)
  await cdp.send('Performance.enable', { timeDomain: 'threadTicks' })
  const before = await work(cdp)
  const steps = 12
  for (let i = 0; i < steps; i++) {
    await page.keyboard.press('+')
    await page.evaluate('new Promise(resolve => requestAnimationFrame(() => resolve(null)))')
  }
  const perStep = (1000 * ((await work(cdp)) - before)) / steps
  await cdp.detach()
  const start = performance.now()
  const [answer] = await Promise.all([
    page.waitForResponse(response => response.url().includes('/series')),
    page.keyboard.press('+'),
  ])
  await answer.finished()
  const ms = performance.now() - start
  return [
    {
      what: `zoom on ${SAMPLES.toExponential()} samples: work of a step with what is there`,
      value: perStep,
      unit: 'CPU ms',
      against: `${ACTION_MS} ms`,
      ratio: perStep / ACTION_MS,
      goal: { most: 1 },
    },
    {
      what: 'the same: finer samples have come (90 ms of rest before they are asked for)',
      value: ms,
      unit: 'ms elapsed',
      against: `${3 * ACTION_MS} ms`,
      ratio: ms / (3 * ACTION_MS),
      goal: { most: 1 },
    },
  ]
}
