import { expect, test } from 'vitest'
import { type Envelope, Envelopes, ENVELOPES_PER_SEC } from '../../server/session/envelopes.ts'

function reduce(rateHz: number, seconds: number, batch: number): Envelope[] {
  const envelopes: Envelope[] = []
  const reducer = new Envelopes(['voltage', 'current'], envelope => envelopes.push(envelope))
  const samples = Math.round(rateHz * seconds)
  for (let from = 0; from < samples; from += batch) {
    const count = Math.min(batch, samples - from)
    const timeSec = Float64Array.from({ length: count }, (_, i) => (from + i) / rateHz)
    const volts = Float64Array.from({ length: count }, (_, i) => from + i)
    reducer.add(timeSec, [volts, volts.map(v => -v)], count)
  }
  reducer.flush()
  return envelopes
}

test('at most sixty a second, and every sample in exactly one', () => {
  const envelopes = reduce(10_000, 2, 170)
  expect(envelopes.length).toBeGreaterThan(2 * ENVELOPES_PER_SEC - 3)
  expect(envelopes.length).toBeLessThanOrEqual(2 * ENVELOPES_PER_SEC + 1)
  let next = 0
  for (const { channels, fromSec, toSec } of envelopes) {
    const [volts, amps] = channels
    expect(volts).toMatchObject({ quantity: 'voltage', low: next })
    expect(volts!.mean).toBeCloseTo((volts!.low + volts!.high) / 2, 9)
    expect(amps).toMatchObject({ low: -volts!.high, high: -volts!.low })
    expect(fromSec).toBeCloseTo(volts!.low / 10_000, 9)
    expect(toSec).toBeCloseTo(volts!.high / 10_000, 9)
    next = volts!.high + 1
  }
  expect(next).toBe(20_000)
})

test('the cut into batches does not show', () => {
  expect(reduce(10_000, 1, 7)).toEqual(reduce(10_000, 1, 1000))
})

test('samples slower than the screen pass one by one', () => {
  expect(reduce(20, 1, 1)).toHaveLength(20)
})
