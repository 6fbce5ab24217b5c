import { expect, test } from 'vitest'
import { Slots } from '../../src/signals/slots.ts'

const GAP = Number.NaN

test('gathers samples into the slot that they fall in', () => {
  const slots = new Slots(0, 10, 5)
  for (const [x, value] of [
    [0, 1],
    [1.9, 3],
    [2, 10],
    [9.99, -1],
    [10, -3],
  ] as const) {
    slots.add(x, value)
  }
  const columns = slots.toColumns()
  expect([...columns.x]).toEqual([1, 3, 9])
  expect([...columns.low]).toEqual([1, 10, -3])
  expect([...columns.mean]).toEqual([2, 10, -2])
  expect([...columns.high]).toEqual([3, 10, -1])
})

test('weighs an extent by its samples', () => {
  const slots = new Slots(0, 1, 1)
  slots.addExtent(0.2, { low: 0, mean: 1, high: 2, count: 3 })
  slots.add(0.5, 9)
  slots.addExtent(0.7, { low: GAP, mean: GAP, high: GAP, count: 0 })
  expect([...slots.toColumns().mean]).toEqual([3])
})

test('shows a gap where nothing is known, but not where samples are sparse', () => {
  const slots = new Slots(0, 6, 6)
  slots.add(0.5, 1)
  slots.add(2.5, 2)
  slots.addGap(2.5, 5.5)
  slots.add(5.5, 3)
  const columns = slots.toColumns()
  expect([...columns.x]).toEqual([0.5, 2.5, 3.5, 4.5, 5.5])
  expect([...columns.mean]).toEqual([1, 2, GAP, GAP, 3])
})

test('shows a gap where the only samples are gaps', () => {
  const slots = new Slots(0, 1, 1)
  slots.add(0.5, GAP)
  expect([...slots.toColumns().high]).toEqual([GAP])
})

test.each([
  [1, 1, 5, 'to = 1; must be above from = 1'],
  [0, 1, 0, 'slots = 0; must be an integer >= 1'],
])('refuses from %s to %s in %s slots', (from, to, slots, text) => {
  expect(() => new Slots(from, to, slots)).toThrow(text)
})
