import { describe, expect, test } from 'vitest'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import { readingOf } from '../../src/quality/judged-quantity.ts'
import { FEWEST_POOLED, pooledUncertainty } from '../../src/quality/pooled-uncertainty.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { fitOf } from '../support/fit-documents.ts'

/** A test with few runs: by Student's t of two degrees of freedom its interval is 4.303 u each way. */
function shortTest(u: number, runs = [1, 2, 3]): FitDocument {
  const fit = fitOf('m', 1, 1e-3, { runs })
  fit.parameters.resistance = {
    ...fit.parameters.resistance,
    standardUncertainty: u,
    lower95: 1 - 4.303 * u,
    upper95: 1 + 4.303 * u,
  }
  return fit
}

const stated = Array.from({ length: 12 }, (_, i) => (i % 2 === 0 ? 0.01 : 0.02))
const tests = stated.map(u => shortTest(u))
const judged = (fit: FitDocument) => readingOf(fit, 'resistance')!.standardUncertainty

describe('short tests of one kind', () => {
  test('are judged by what they state together, in the root mean square', () => {
    const together = Math.sqrt((0.01 ** 2 + 0.02 ** 2) / 2)
    for (const fit of tests) {
      const pooled = pooledUncertainty(fit, tests)
      expectRelative(pooled.parameters.resistance.standardUncertainty!, together, 1e-12)
      // t of 12 degrees of freedom over that of infinitely many: 2.1788 / 1.95996 (tables).
      expectRelative(judged(pooled), (together * 2.1788) / 1.95996, 1e-4)
      expect(judged(pooled)).toBeLessThan(judged(shortTest(0.02)))
    }
  })

  test('one that went otherwise keeps what it states', () => {
    const odd = shortTest(0.2)
    expect(judged(pooledUncertainty(odd, tests))).toBe(judged(odd))
  })

  test('too few tests, and tests of another effort, are not pooled', () => {
    const fit = tests[0]!
    expect(pooledUncertainty(fit, tests.slice(0, FEWEST_POOLED - 1))).toBe(fit)
    const others = stated.map(u => shortTest(u, [1, 2, 3, 4]))
    expect(pooledUncertainty(fit, others)).toBe(fit)
  })
})
