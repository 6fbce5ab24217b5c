import { readdirSync, readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { pageClauses } from '../support/protocol-page.ts'

const TESTS = new URL('../', import.meta.url)

/** Clauses that no program can try, and why. */
const BEYOND_TESTS: Readonly<Record<string, string>> = {
  'P-1.2': 'signs: somebody has to look at the shaft',
  'P-1.3': 'a definition',
  'P-1.4': 'a definition',
  'P-2.2': 'modem lines: a pseudo-terminal has none',
  'P-8.9': 'takes instruments at the bridge',
}

test('every clause of firmware-protocol.md is cited above a test that tries it', () => {
  const cited = new Set<string>()
  for (const name of readdirSync(TESTS, { recursive: true, encoding: 'utf8' })) {
    if (!name.endsWith('.test.ts')) continue
    const text = readFileSync(new URL(name.replaceAll('\\', '/'), TESTS), 'utf8')
    for (const comment of text.matchAll(/\/\/( P-\d+\.\d+)+/g)) {
      for (const clause of comment[0].matchAll(/P-\d+\.\d+/g)) cited.add(clause[0])
    }
  }
  const uncited = pageClauses().filter(clause => !cited.has(clause))
  expect(uncited).toEqual(Object.keys(BEYOND_TESTS))
  expect([...cited].filter(clause => !pageClauses().includes(clause))).toEqual([])
})
