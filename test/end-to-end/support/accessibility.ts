import { createRequire } from 'node:module'
import { readFileSync } from 'node:fs'
import type { Page } from 'playwright-core'

const axeSource = readFileSync(
  createRequire(import.meta.url).resolve('axe-core/axe.min.js'),
  'utf8',
)

interface AxeResult {
  violations: { id: string; help: string; nodes: { target: string[]; failureSummary?: string }[] }[]
}

const ALL = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']
/** What depends on colours and on width; the rest is the same in every scheme and size. */
const DRESS = ['color-contrast', 'target-size', 'scrollable-region-focusable', 'link-in-text-block']

/** Every violation of WCAG 2.2 AA that axe-core finds on the view, one line each. */
export async function violations(page: Page, what: 'all' | 'dress' = 'all'): Promise<string[]> {
  // Run in a world of its own: the page's security policy forbids foreign scripts.
  await page.evaluate(axeSource)
  const result = (await page.evaluate(
    `axe.run(document, { runOnly: ${JSON.stringify(what === 'all' ? { type: 'tag', values: ALL } : { type: 'rule', values: DRESS })}, resultTypes: ['violations'] })`,
  )) as AxeResult
  return result.violations.flatMap(violation =>
    violation.nodes.map(
      node =>
        `${violation.id}: ${violation.help} (${node.target.join(' ')}) ${node.failureSummary?.split('\n')[1]?.trim() ?? ''}`,
    ),
  )
}
