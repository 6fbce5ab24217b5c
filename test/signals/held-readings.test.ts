import { describe, expect, test } from 'vitest'
import { readingsApart } from '../../src/signals/held-readings.ts'

const PERIOD_SEC = 1e-3
const COUNT = 3000

/** From rest up to 200 rad/s, on at that speed, and down to rest again. */
function courseOf(t: number): number {
  if (t < 0.3) return 0
  if (t < 1) return (200 * (t - 0.3)) / 0.7
  if (t < 1.8) return 200 + 0.3 * Math.sin(40 * t)
  return Math.max(0, 200 * (1 - (t - 1.8) / 0.6))
}

/** As a timer between the edges of an encoder reads it: the last whole step over the time that it took. */
function timedSpeed(edgesPerTurn: number, timeoutSec = 0.2): Float64Array {
  const step = (2 * Math.PI) / edgesPerTurn
  const column = new Float64Array(COUNT)
  let [angle, edges, lastSec, reading] = [0.4 * step, 0, Number.NaN, 0]
  const parts = 200
  for (let i = 0; i < COUNT; i++) {
    for (let part = 0; part < parts; part++) {
      const t = (i + part / parts) * PERIOD_SEC
      angle += (courseOf(t) * PERIOD_SEC) / parts
      if (Math.floor(angle / step) > edges) {
        edges++
        if (!Number.isNaN(lastSec)) reading = step / (t - lastSec)
        lastSec = t
      } else if (t - lastSec > timeoutSec) {
        reading = 0
        lastSec = Number.NaN
      }
    }
    column[i] = reading
  }
  return column
}

function worstError(values: Float64Array, counts: (i: number) => boolean): number {
  let worst = 0
  values.forEach((value, i) => {
    if (counts(i)) worst = Math.max(worst, Math.abs(value - courseOf((i + 1) * PERIOD_SEC)))
  })
  return worst
}

describe('a speed that stands between the edges of an encoder', () => {
  // A period timer reads the mean over the last period: common practice, no source.
  const column = timedSpeed(4)

  test('is read at the middle of the time that each reading is the mean over', () => {
    const { values, isReading } = readingsApart(column)!
    // While it speeds up or slows down, what stood is as wrong as the speed has changed since.
    const changing = (i: number) => i > 600 && i < 950
    expect(worstError(column, changing)).toBeGreaterThan(3)
    expect(worstError(values, i => changing(i) && isReading[i] === 1)).toBeLessThan(1)
    expect(worstError(values, changing)).toBeLessThan(1)
  })

  test('the nil that is read while a shaft begins to turn is no reading, that before it is one', () => {
    const { isReading } = readingsApart(column)!
    const first = column.findIndex(value => value > 0)
    expect(isReading.subarray(0, 200).every(flag => flag === 1)).toBe(true)
    // The shaft turns from sample 300 on.
    expect(isReading.subarray(301, first - 30).some(flag => flag === 1)).toBe(false)
  })

  test('the last reading does not stand on while the shaft stops', () => {
    const { values, isReading } = readingsApart(column)!
    const stopped = column.lastIndexOf(column.findLast(value => value > 0)!)
    expect(isReading.subarray(stopped - 50, stopped).some(flag => flag === 1)).toBe(false)
    expect(values[stopped]!).toBeLessThan(column[stopped]! / 2)
  })

  test('at a steady speed nothing changes, and the noise is that of neighbours', () => {
    const { values, noise } = readingsApart(column)!
    expect(worstError(values, i => i > 1050 && i < 1750)).toBeLessThan(0.5)
    expect(noise).toBeLessThan(2)
    expect(noise).toBeGreaterThan(0.01)
  })
})

describe('left as they are', () => {
  test('readings that are new each time', () => {
    expect(readingsApart(Float64Array.from({ length: 999 }, (_, i) => Math.sin(i)))).toBeNull()
  })

  test('values of a converter that has coarse steps: each is right to half a step', () => {
    const coarse = Float64Array.from(
      { length: COUNT },
      (_, i) => 4 * Math.round(courseOf(i * PERIOD_SEC) / 4),
    )
    const apart = readingsApart(coarse)
    expect(apart?.values ?? coarse).toEqual(coarse)
  })

  test('a shaft that never turns', () => {
    expect(readingsApart(new Float64Array(500))).toBeNull()
  })
})
