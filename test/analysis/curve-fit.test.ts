import { describe, expect, test } from 'vitest'
import { fitCurve } from '../../src/analysis/curve-fit.ts'
import { autocorrelationTime } from '../../src/statistics/autocorrelation-time.ts'
import {
  CERTIFIED_SETS,
  CERTIFIED_SOURCE,
  problemOf,
  responseOf,
} from '../support/certified-curves.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { fitByPackage } from '../support/package-curve-fit.ts'

/**
 * What a bench might record: rises and decays of a current, a temperature or a speed, alone, over a straight
 * line or several at once, S-shaped starts, power laws. Relative distances that are reached with slopes by
 * differences. MGH17 from its first start needs some five hundred passes and is refused, see below.
 */
const CASES = [
  { name: 'BoxBOD', shape: 'a rise from six readings', starts: [1, 2], reached: 1e-8 },
  { name: 'Misra1a', shape: 'a rise', starts: [1, 2], reached: 1e-9 },
  { name: 'Misra1b', shape: 'a slower rise', starts: [1, 2], reached: 1e-8 },
  { name: 'Misra1c', shape: 'a rise without an end', starts: [1, 2], reached: 1e-8 },
  { name: 'Misra1d', shape: 'a saturating rise', starts: [1, 2], reached: 1e-8 },
  { name: 'Chwirut1', shape: 'a decay over a straight line', starts: [1, 2], reached: 1e-9 },
  { name: 'Chwirut2', shape: 'the same with few readings', starts: [1, 2], reached: 1e-8 },
  { name: 'DanWood', shape: 'a power law', starts: [1, 2], reached: 1e-9 },
  { name: 'Lanczos3', shape: 'three decays at once', starts: [1, 2], reached: 1e-6 },
  { name: 'MGH17', shape: 'two decays and a constant', starts: [2], reached: 1e-7 },
  { name: 'Rat42', shape: 'an S', starts: [1, 2], reached: 1e-9 },
  { name: 'Rat43', shape: 'an S that is not symmetric', starts: [1, 2], reached: 1e-8 },
].map(row => ({ ...row, set: CERTIFIED_SETS.find(({ name }) => name === row.name)! }))

const everyStart = CASES.flatMap(row => row.starts.map(number => ({ ...row, number })))

describe(`certified curves (${CERTIFIED_SOURCE})`, () => {
  test.each(everyStart)('$name from its start $number: $shape', ({ set, number, reached }) => {
    const { values } = problemOf(set)
    const curve = (p: readonly number[]) => values(Float64Array.from(p))
    const fit = fitCurve(curve, responseOf(set), set.starts[number - 1]!)
    if (fit === null) throw new Error('no fit')
    // Residuals that hang together raise the uncertainty: certified values know of no such thing.
    const raised = autocorrelationTime(fit.residuals)
    for (const [j, estimate] of set.estimates.entries()) {
      expectRelative(fit.parameters[j]!, estimate, reached)
      const deviation = Math.sqrt(fit.covariance[j]![j]! / raised)
      expectRelative(deviation, set.standardDeviations[j]!, 10 * reached)
    }
  })

  test('MGH17 from its first start is refused, not answered wrongly', () => {
    const set = CERTIFIED_SETS.find(({ name }) => name === 'MGH17')!
    const { values } = problemOf(set)
    const curve = (p: readonly number[]) => values(Float64Array.from(p))
    expect(fitCurve(curve, responseOf(set), set.starts[0]!)).toBeNull()
  })
})

/**
 * Why these curves are fitted by the solver of src/numerics: `ml-levenberg-marquardt`, scaled as it needs and given
 * 200 iterations, misses the sets below. A step that makes things worse is not refused there, so a start from
 * which the first step overshoots is lost. Should a later version meet them, this says so.
 */
const MISSED: Readonly<Record<string, string>> = {
  'BoxBOD 1': 'the first step overshoots: "LU matrix is singular"',
  'Rat43 1': 'ends on a plateau, its value of b1 too low',
  'Lanczos3 1': 'two of the three decays run into each other',
  'Lanczos3 2': 'still under way after 200 iterations',
}

describe('the same curves by ml-levenberg-marquardt', () => {
  test.each(everyStart)('$name from its start $number', ({ name, set, number, reached }) => {
    let parameters: readonly number[] | null = null
    try {
      parameters = fitByPackage(problemOf(set), set.starts[number - 1]!, 200)
    } catch (error) {
      expect(MISSED[`${name} ${number}`]).toContain((error as Error).message)
    }
    const off = set.estimates.map((value, j) => Math.abs((parameters?.[j] ?? 0) / value - 1))
    const met = Math.max(...off) <= Math.max(reached, 2e-8)
    expect(met).toBe(!(`${name} ${number}` in MISSED))
  })
})
