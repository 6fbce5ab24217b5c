import { describe, expect, test } from 'vitest'
import { type LinearFit, linearLeastSquares } from '../../../src/numerics/linear/least-squares.ts'
import { polynomialLeastSquares } from '../../../src/numerics/linear/polynomial.ts'
import strd from '../../reference/nist-strd-linear.json' with { type: 'json' }
import { expectRelative } from '../../support/expect-relative.ts'

const source = strd.source

/**
 * Relative tolerances are what is reached: [estimates, standard deviations]. The polynomials are of degree 2 to 10
 * in raw powers of x; double precision and the certified digits allow no more for Wampler5, whose noise is 1e4 times
 * its signal. Filip, which defeats normal equations in double precision, is met to 13 digits by centring.
 */
const REACHED: Readonly<Record<string, readonly [number, number]>> = {
  Norris: [1e-12, 1e-13],
  Pontius: [2e-12, 2e-13],
  NoInt1: [1e-14, 1e-14],
  NoInt2: [1e-14, 1e-14],
  Filip: [2e-13, 2e-13],
  Longley: [1e-10, 1e-12],
  Wampler1: [2e-10, 1e-9],
  Wampler2: [1e-12, 1e-13],
  Wampler3: [5e-10, 1e-13],
  Wampler4: [5e-10, 1e-13],
  Wampler5: [5e-8, 1e-13],
}

function fitSet(set: (typeof strd.sets)[number]): LinearFit {
  const y = set.rows.map(row => row[0]!)
  const x = set.rows.map(row => row[1]!)
  const ones = x.map(() => 1)
  const fit =
    set.model === 'polynomial'
      ? polynomialLeastSquares(x, y, set.estimates.length - 1)
      : linearLeastSquares(
          set.model === 'through-origin'
            ? [x]
            : [ones, ...set.rows[0]!.slice(1).map((_, j) => set.rows.map(row => row[j + 1]!))],
          y,
        )
  if (!fit.ok) throw new Error(fit.error)
  return fit.value
}

describe.each(strd.sets)(`$name (${source})`, set => {
  const [forEstimates, forDeviations] = REACHED[set.name]!
  const fit = fitSet(set)

  test.each(set.estimates.map((value, j) => ({ j, value })))(
    'estimate B$j is $value',
    ({ j, value }) => expectRelative(fit.coefficients[j]!, value, forEstimates),
  )

  test.each(set.standardDeviations.map((value, j) => ({ j, value })))(
    'standard deviation of B$j is $value',
    ({ j, value }) => {
      const deviation = Math.sqrt(fit.residualVariance! * fit.inverseNormal[j]![j]!)
      expectRelative(deviation, value, forDeviations)
    },
  )

  test(`residual standard deviation is ${set.residualStandardDeviation}`, () =>
    expectRelative(Math.sqrt(fit.residualVariance!), set.residualStandardDeviation, forDeviations))
})

test('all eleven sets are here', () => {
  expect(strd.sets.map(set => set.name).sort()).toEqual(Object.keys(REACHED).sort())
})

test('Filip by raw powers keeps seven digits: the centring wins the other six', () => {
  const set = strd.sets.find(({ name }) => name === 'Filip')!
  const powers = set.estimates.map((_, j) => set.rows.map(row => row[1]! ** j))
  const fit = linearLeastSquares(
    powers,
    set.rows.map(row => row[0]!),
  )
  if (!fit.ok) throw new Error(fit.error)
  for (const [j, value] of set.estimates.entries()) {
    expectRelative(fit.value.coefficients[j]!, value, 1e-7)
  }
})
