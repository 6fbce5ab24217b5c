import { type Browser, type BrowserContext, chromium, type Page } from 'playwright-core'
import { findBrowser } from './find-browser.ts'

/** Chromium needs no sandbox in a container whose user is root; elsewhere it keeps it. */
const isRoot = process.getuid?.() === 0

const FLAGS = [
  ...(isRoot ? ['--no-sandbox'] : []),
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
]

export const BROWSER = findBrowser()

export const WITHOUT_BROWSER =
  'no Chromium, Chrome or Edge is installed: the page was not tried in a browser (CHROME_PATH names one)'

/** Says once, in the output of the tests, why they did not run. */
export function sayWithoutBrowser(): void {
  if (BROWSER === null) console.warn(WITHOUT_BROWSER)
}

export const launchBrowser = (): Promise<Browser> =>
  chromium.launch({ executablePath: BROWSER!, args: FLAGS })

export interface Visit {
  readonly page: Page
  readonly context: BrowserContext
  /** Faults of the page itself: exceptions, failed parts, violations of the security policy. */
  readonly faults: string[]
  /** Hosts that anything was asked of. */
  readonly hosts: Set<string>
}

export interface VisitOptions {
  readonly width?: number
  readonly height?: number
  readonly scheme?: 'light' | 'dark'
}

/** A fresh browser profile at a size and in a scheme. The locale is set: headless ones can be odd. */
export async function visit(browser: Browser, options: VisitOptions = {}): Promise<Visit> {
  const { width = 1280, height = 900, scheme = 'light' } = options
  const context = await browser.newContext({
    viewport: { width, height },
    locale: 'en-GB',
    timezoneId: 'UTC',
    colorScheme: scheme,
    reducedMotion: 'reduce',
  })
  context.setDefaultTimeout(8000)
  const page = await context.newPage()
  const faults: string[] = []
  const hosts = new Set<string>()
  page.on('pageerror', error => faults.push(error.message))
  page.on('console', message => {
    if (message.type() === 'error') faults.push(message.text())
  })
  page.on('request', request => {
    const { protocol, host } = new URL(request.url())
    if (protocol.startsWith('http')) hosts.add(host)
  })
  return { page, context, faults, hosts }
}
