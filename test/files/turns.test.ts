import { describe, expect, test } from 'vitest'
import { TurnCounter, TurnWatch } from '../../server/files/turns.ts'

const TURN = 2 * Math.PI
const within = (angle: number, from: number) => angle - TURN * Math.floor((angle - from) / TURN)
const shaft = (radPerSample: number, count: number) =>
  Float64Array.from({ length: count }, (_, i) => 1 + i * radPerSample)

function startsAgain(positions: Float64Array): boolean {
  const watch = new TurnWatch()
  watch.add(positions.subarray(0, 7))
  watch.add(positions.subarray(7))
  return watch.startsAgain
}

describe('an angle that starts again each turn is counted on', () => {
  test.each([
    ['from nil to a turn, forward', 0.7, 0],
    ['from minus to plus half a turn', 0.7, -Math.PI],
    ['backward', -0.7, 0],
  ])('%s', (_name, step, from) => {
    const truth = shaft(step, 100)
    const read = truth.map(angle => within(angle, from))
    expect(startsAgain(read)).toBe(true)
    const counter = new TurnCounter()
    const counted = [...counter.countOn(read.subarray(0, 7)), ...counter.countOn(read.subarray(7))]
    for (const [i, angle] of counted.entries())
      expect(angle - counted[0]!).toBeCloseTo(truth[i]! - truth[0]!, 9)
    expect(counter.farSteps).toBe(0)
  })

  test('a gap keeps the count where less than half a turn passes in it', () => {
    const read = shaft(0.7, 20).map(angle => within(angle, 0))
    read[8] = Number.NaN
    const counted = new TurnCounter().countOn(read)
    expect(counted[8]).toBeNaN()
    expect(counted[19]! - counted[0]!).toBeCloseTo(19 * 0.7, 9)
  })

  test('steps near half a turn are counted: the direction is not sure', () => {
    const counter = new TurnCounter()
    counter.countOn(shaft(0.45 * TURN, 50).map(angle => within(angle, 0)))
    expect(counter.farSteps).toBe(49)
  })
})

test('a shaft that hardly moves and one that is counted already are left as they are', () => {
  expect(startsAgain(Float64Array.from({ length: 50 }, (_, i) => 0.001 * (i % 3)))).toBe(false)
  expect(startsAgain(shaft(0.7, 100))).toBe(false)
  // Sampled so slowly that it jumps by turns, but over many of them.
  expect(startsAgain(shaft(20, 100))).toBe(false)
})
