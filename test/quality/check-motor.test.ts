import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { checkChart, FEWEST_CHECKS } from '../../src/quality/check-motor.ts'
import { expectRelative } from '../support/expect-relative.ts'

const head = { quantity: 'resistance', label: 'Winding resistance', unit: 'ohm' }

describe('a check motor', () => {
  test('limits come from the measurements before the newest (individuals, 3 MR/d2)', () => {
    const { chart } = checkChart(head, [10, 12, 10, 12, 10, 20])
    // Mean 10.8, mean moving range 2; d2 of two values 1.128. Source: ISO 7870-2, table of factors.
    expectRelative(chart!.centre, 10.8, 1e-12)
    expectRelative(chart!.upper[0]!, 10.8 + (3 * 2) / 1.128, 1e-3)
  })

  test('a jump of the bench is said, with how far', () => {
    const normal = seededNormal(seededUniform(3))
    const steady = Array.from({ length: 12 }, () => 1 + 0.001 * normal())
    expect(checkChart(head, steady).drift).toBe('')
    expect(checkChart(head, [...steady, 1.01]).drift).toMatch(
      /1\.\d? ?% above its mean|% above its mean: one point/,
    )
  })

  test('a slow drift is said by a run rule before a limit is passed', () => {
    const values = [0, 0.4, -0.3, 0.5, -0.5, 0.2, 0.25, 0.3, 0.36, 0.42, 0.5].map(
      x => 1 + 0.001 * x,
    )
    const { drift } = checkChart(head, values)
    expect(drift).toContain('six points in a row rising')
  })

  test('nothing is said from too few, or from values that never differ', () => {
    expect(checkChart(head, [1, 2, 1])).toMatchObject({ chart: null, drift: '' })
    expect(checkChart(head, [1, 2, 1]).remark).toContain(`3 of ${FEWEST_CHECKS + 1}`)
    expect(checkChart(head, [1, 1, 1, 1, 1, 1, 2]).remark).toContain('do not differ')
  })
})
