import { expect, test } from 'vitest'
import { lowest } from '../../src/numerics/parabola.ts'

const at = (shift: number) => ({ shift, cost: 3 + 2 * (shift - 0.4) ** 2 })

test('the lowest point of a parabola lies at its own vertex, however the tries are spaced', () => {
  for (const [left, middle, right] of [
    [-1, 0, 1],
    [-1, 0.5, 4],
    [0, 0.3, 0.9],
  ] as const) {
    const { shift, cost } = lowest(at(left), at(middle), at(right))
    expect(shift).toBeCloseTo(0.4, 12)
    expect(cost).toBeCloseTo(3, 12)
  }
})

test('what does not bend upwards keeps its middle', () => {
  const flat = (shift: number) => ({ shift, cost: 1 })
  expect(lowest(flat(-1), flat(0), flat(1))).toEqual(flat(0))
  expect(lowest({ shift: -1, cost: Number.POSITIVE_INFINITY }, flat(0), flat(1))).toEqual(flat(0))
})
