import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { nextStallVolt, type StallPoint, stallLine } from '../../src/procedure/stall-line.ts'
import { expectRelative } from '../support/expect-relative.ts'

interface Winding {
  readonly ohm: number
  readonly drop: number
  readonly knee: number
}

/** Current of a rotor at standstill, by bisection. */
function stallAmp({ ohm, drop, knee }: Winding, volt: number): number {
  let low = 0
  let high = volt / ohm
  for (let i = 0; i < 80; i++) {
    const middle = (low + high) / 2
    if (ohm * middle + drop * Math.tanh(middle / knee) < volt) low = middle
    else high = middle
  }
  return low
}

const point = (winding: Winding, volt: number, uncertaintyAmp = 1e-6): StallPoint => ({
  volt,
  amp: stallAmp(winding, volt),
  uncertaintyAmp,
  standing: true,
})

describe('line through stall points', () => {
  test('no current, no line; one current, a line through the origin', () => {
    expect(stallLine([])).toBeNull()
    const noisy = { volt: 1, amp: 0.01, uncertaintyAmp: 0.01, standing: true }
    expect(stallLine([noisy])).toBeNull()
    expect(stallLine([{ ...noisy, amp: 2 }])).toMatchObject({
      resistanceOhm: 0.5,
      brushVolt: 0,
      settled: false,
    })
  })

  test('far above the knee it gives resistance and drop, whatever the polarity', () => {
    const winding = { ohm: 0.5, drop: 0.8, knee: 0.05 }
    const points = [1.5, -2, 3, -4, 5].map(volt => {
      const { amp, ...rest } = point(winding, Math.abs(volt))
      return { ...rest, volt, amp: Math.sign(volt) * amp }
    })
    const line = stallLine(points)!
    expectRelative(line.resistanceOhm, 0.5, 1e-6)
    expectRelative(line.brushVolt, 0.8, 1e-6)
    expect(line.settled).toBe(true)
  })

  test('across the knee it does not count as settled', () => {
    const winding = { ohm: 0.2, drop: 1, knee: 0.5 }
    const line = stallLine([0.5, 0.7, 0.9, 1.1, 1.3].map(volt => point(winding, volt)))!
    expect(line.settled).toBe(false)
  })
})

test('the way up to a current never reaches the trip above it, for 400 windings with a bent line', () => {
  const uniform = seededUniform(42)
  const normal = seededNormal(uniform)
  for (let n = 0; n < 400; n++) {
    const goal = 0.5 * 60 ** uniform()
    const cap = 6 * 8 ** uniform()
    const ohm = 0.05 * 200 ** uniform()
    const winding = {
      ohm,
      // Where the limit lies at a current whose ohmic voltage is small against the drop, only the trip helps.
      drop: Math.min(1.2, 2 * ohm * goal) * uniform(),
      knee: goal * 0.005 * 40 ** uniform(),
    }
    const points: StallPoint[] = []
    let largest = 0
    for (let pulse = 0; pulse < 40; pulse++) {
      const volt = nextStallVolt(points, goal, cap)
      expect(volt).toBeLessThanOrEqual(cap)
      const noise = 1e-4 * goal
      const seen = point(winding, volt, noise)
      largest = Math.max(largest, seen.amp)
      points.push({ ...seen, amp: seen.amp + noise * normal() })
    }
    const winding_ = JSON.stringify({ goal, cap, winding })
    // Goals are planned at nine tenths of the current at which the rig trips.
    expect(largest / goal, winding_).toBeLessThan(1 / 0.9)
    const reachable = Math.min(goal, stallAmp(winding, cap))
    expect(largest / reachable, winding_).toBeGreaterThan(0.7)
  }
})

test('the first voltage of all is about one percent of the highest', () => {
  expect(nextStallVolt([], 10, 24)).toBeCloseTo(0.24, 10)
  expect(nextStallVolt([], 10, 3)).toBe(0.05)
  expect(nextStallVolt([], 10, 60)).toBe(0.3)
  // Less where even so little may pass the current aimed at.
  expect(nextStallVolt([], 1, 24)).toBe(0.04)
})
