import { describe, expect, test } from 'vitest'
import { type GaugePlan, gaugeOrder } from '../../src/quality/gauge-plan.ts'

const plan: GaugePlan = {
  study: 'spring',
  operators: ['Ada', 'Ben'],
  parts: ['m1', 'm2', 'm3', 'm4', 'm5'],
  trials: 3,
}
const name = ({ part, operator }: { part: string; operator: string }) => `${part} ${operator}`

describe('the order of a gauge study', () => {
  test('every operator measures every part equally often', () => {
    const order = gaugeOrder(plan, [])
    expect(order).toHaveLength(30)
    const counts = new Map<string, number>()
    for (const cell of order) counts.set(name(cell), (counts.get(name(cell)) ?? 0) + 1)
    expect([...counts.values()]).toEqual(Array(10).fill(3))
  })

  test('parts come in another order each time, but in the same for everybody', () => {
    const rounds = (order: ReturnType<typeof gaugeOrder>) =>
      Array.from({ length: 6 }, (_, i) =>
        order
          .slice(5 * i, 5 * i + 5)
          .map(cell => cell.part)
          .join(),
      )
    const once = rounds(gaugeOrder(plan, []))
    expect(new Set(once).size).toBeGreaterThanOrEqual(4)
    expect(rounds(gaugeOrder(plan, []))).toEqual(once)
    expect(rounds(gaugeOrder({ ...plan, study: 'autumn' }, []))).not.toEqual(once)
  })

  test('what was measured is done, out of turn or not; the next is the first that is left', () => {
    const fresh = gaugeOrder(plan, [])
    const third = fresh[2]!
    const order = gaugeOrder(plan, [third, { part: 'stranger', operator: 'Ada' }])
    expect(order.map(cell => cell.isDone)).toEqual(fresh.map((_, i) => i === 2))
    const complete = gaugeOrder(plan, fresh)
    expect(complete.every(cell => cell.isDone)).toBe(true)
  })
})
