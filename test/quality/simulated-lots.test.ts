import { describe, expect, test } from 'vitest'
import type { DecisionRule } from '../../src/quality/conformity.ts'
import { LOT_QUANTITIES, simulateLots } from '../support/simulated-lots.ts'

const LOTS = 1000

/** Five standard deviations of a count, so that a fixed seed says something of the rule and not of luck. */
const within = (count: number, of: number, risk: number) =>
  expect(Math.abs(count - of * risk)).toBeLessThan(5 * Math.sqrt(of * risk * (1 - risk)))

describe('a thousand seeded lots of twenty', () => {
  const rules: { rule: DecisionRule; risk: number }[] = [
    { rule: { kind: 'conformity', probability: 0.95 }, risk: 0.05 },
    { rule: { kind: 'consumer-risk', risk: 0.01 }, risk: 0.01 },
    // At the limit itself a value falls outside every other time: JCGM 106, 8.2.
    { rule: { kind: 'simple' }, risk: 0.5 },
  ]
  test.each(rules)('$rule', ({ rule, risk }) => {
    const { bad, edge, good } = simulateLots(LOTS, 20, rule)
    expect(Object.keys(bad).sort()).toEqual(LOT_QUANTITIES.map(q => q.name).sort())
    for (const { made, failed } of Object.values(bad)) {
      expect(failed / made).toBeGreaterThanOrEqual(0.99)
    }
    within(edge.failed, edge.judged, risk)
    // A motor well within the limits is failed more rarely still.
    expect(good.failed / good.judged).toBeLessThanOrEqual(risk)
  })
})
