import { describe, expect, test } from 'vitest'
import {
  conformityProbability,
  decide,
  guardBand,
  testUncertaintyRatio,
} from '../../src/quality/conformity.ts'
import { expectRelative } from '../support/expect-relative.ts'

const examples = [
  {
    y: -5.47,
    u: 0.05,
    lower: null,
    upper: -5.4,
    p: 0.9192433408,
    source: 'JCGM 106:2012 clause 7, 0.92, from memory; digits recomputed',
  },
  {
    y: 509.7,
    u: 8.6,
    lower: 490,
    upper: null,
    p: 0.9890095474,
    source: 'JCGM 106:2012 clause 7, 0.99, from memory; digits recomputed',
  },
  {
    y: 13.6,
    u: 1.8,
    lower: 12.5,
    upper: 16.3,
    p: 0.6626297865,
    source: 'JCGM 106:2012 clause 7, 0.66, from memory; digits recomputed',
  },
]

test.each(examples)('conformity probability $p ($source)', e => {
  expectRelative(conformityProbability({ value: e.y, standardUncertainty: e.u }, e), e.p, 1e-8)
})

describe('decisions', () => {
  const band = { lower: 9, upper: 11 }
  const at = (value: number) => ({ value, standardUncertainty: 0.1 })
  test.each([
    [10, 'pass'],
    [10.83, 'pass'],
    [10.84, 'undecided'],
    [11.16, 'undecided'],
    [11.17, 'fail'],
  ] as const)('%d is %s at 95 %% conformity: the guard band is 1.645 u', (value, verdict) => {
    // ISO 14253-1:2017: acceptance limit drawn in by 1.65 u, from memory.
    expect(decide(at(value), band, { kind: 'conformity', probability: 0.95 })).toBe(verdict)
  })

  test('simple acceptance leaves the uncertainty out', () => {
    expect(decide(at(10.999), band, { kind: 'simple' })).toBe('pass')
    expect(decide(at(11.001), band, { kind: 'simple' })).toBe('fail')
  })

  test('a measurement far worse than the band never decides', () => {
    const blunt = { value: 10, standardUncertainty: 5 }
    expect(decide(blunt, band, { kind: 'consumer-risk', risk: 0.025 })).toBe('undecided')
  })

  test('guard factors', () => {
    // ILAC-G8: w = U gives at most 2.5 %, from memory; z from tables of the normal distribution.
    expectRelative(guardBand(1, { kind: 'consumer-risk', risk: 0.025 }), 1.9599639845, 1e-9)
    expectRelative(guardBand(1, { kind: 'conformity', probability: 0.95 }), 1.644853627, 1e-9)
    expect(guardBand(1, { kind: 'simple' })).toBe(0)
  })

  test('test uncertainty ratio of 4: ±2 with u = 0.25', () => {
    expect(testUncertaintyRatio({ lower: -2, upper: 2 }, 0.25, 0)).toBe(4)
    expect(testUncertaintyRatio({ lower: null, upper: 2 }, 0.25, 1)).toBe(2)
  })

  test('reversed limits are refused by name', () => {
    expect(() => conformityProbability(at(1), { lower: 2, upper: 1 })).toThrow('band.lower = 2')
  })
})
