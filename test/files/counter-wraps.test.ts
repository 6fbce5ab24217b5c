import { describe, expect, test } from 'vitest'
import { CounterWatch } from '../../server/files/counter-wraps.ts'
import { TurnCounter } from '../../server/files/turns.ts'
import { seededUniform } from '../../src/base/random.ts'

const RAD_PER_COUNT = (2 * Math.PI) / 2000

/** Counts of a shaft, some a row, kept within a counter that starts at `from`. */
function counter(full: number, aRow: number, count = 3000, from = 0) {
  const truth = Float64Array.from({ length: count }, (_, i) => Math.round(17 + i * aRow))
  const read = truth.map(n => n - full * Math.floor((n - from) / full))
  return { truth, read: read.map(n => n * RAD_PER_COUNT) }
}

function watch(positions: Float64Array): CounterWatch {
  const watched = new CounterWatch(RAD_PER_COUNT)
  watched.add(positions.subarray(0, 11))
  watched.add(positions.subarray(11))
  return watched
}

describe('a counter that starts again when it is full', () => {
  test.each<[string, number, number, number?]>([
    ['12 bit', 4096, 37.3],
    ['12 bit, backward', 4096, -37.3],
    ['12 bit, slower than a count a row', 4096, 1.7],
    ['12 bit, a third of its range a row', 4096, 1400],
    ['8 bit', 256, 0.31],
    ['16 bit about nil', 65_536, 611.7, -32_768],
    ['16 bit, once', 65_536, 30],
  ])('%s: known by its course and counted on', (_, full, aRow, from) => {
    const { truth, read } = counter(full, aRow, 3000, from)
    expect(watch(read).fullAt).toBe(full)
    const on = new TurnCounter(full * RAD_PER_COUNT)
    const counted = [...on.countOn(read.subarray(0, 11)), ...on.countOn(read.subarray(11))]
    expect(on.farSteps).toBe(0)
    for (const [i, angle] of counted.entries())
      expect((angle - counted[0]!) / RAD_PER_COUNT).toBeCloseTo(truth[i]! - truth[0]!, 5)
  })

  test('gaps and a shaft that turns round do not mislead', () => {
    const truth = Float64Array.from({ length: 4000 }, (_, i) => Math.round(9e3 * Math.sin(i / 400)))
    const read = truth.map((n, i) =>
      i % 97 === 0 ? Number.NaN : (n - 4096 * Math.floor(n / 4096)) * RAD_PER_COUNT,
    )
    expect(watch(read).fullAt).toBe(4096)
  })

  test.each([1000, 4000, 10_000])('%d counts are no power of two: told, not counted on', full => {
    const watched = watch(counter(full, 13).read)
    expect(watched.fullAt).toBeNull()
    expect(Math.abs(watched.fallsBackBy! - full)).toBeLessThan(2)
    expect(watched.isSmooth).toBe(true)
  })

  test('an angle that is not in whole counts is no counter', () => {
    const watched = watch(counter(4096, 37.3).read.map(angle => angle + 0.3 * RAD_PER_COUNT))
    expect(watched.fullAt).toBeNull()
  })

  test.each<[string, (i: number) => number]>([
    ['running on', i => Math.round(12.3 * i)],
    ['swinging', i => Math.round(3000 * Math.sin(i / 50))],
    ['at rest', () => 512],
  ])('a shaft %s falls back nowhere', (_, course) => {
    const positions = Float64Array.from({ length: 3000 }, (_, i) => course(i))
    expect(watch(positions.map(n => n * RAD_PER_COUNT)).fallsBackBy).toBeNull()
  })

  test('noise at rest is not smooth, so nothing is said of it', () => {
    const chance = seededUniform(3)
    const noise = Float64Array.from({ length: 5000 }, () => chance() + chance() + chance())
    expect(watch(noise).isSmooth).toBe(false)
  })
})
