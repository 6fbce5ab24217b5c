import { describe, expect, test } from 'vitest'
import { type ChannelDeclaration, countBounds } from '../../src/protocol/channel.ts'
import { countToSi, isSaturated, ModuloUnwrapper, traitsOf } from '../../src/protocol/counts.ts'
import { Unwrapper } from '../../src/protocol/unwrap.ts'

describe('a 32-bit counter', () => {
  // P-6.4 P-6.8
  test('runs on across the wrap, twice', () => {
    const unwrap = new Unwrapper()
    const steps = [4_294_967_290, 5, 2_000_000_000, 4_000_000_000, 100]
    expect(steps.map(s => unwrap.next(s))).toEqual([
      4_294_967_290, 4_294_967_301, 6_294_967_296, 8_294_967_296, 8_589_934_692,
    ])
  })

  test('that runs backwards comes out smaller than before', () => {
    const unwrap = new Unwrapper()
    expect(unwrap.next(1000)).toBe(1000)
    expect(unwrap.next(900)).toBe(900)
    unwrap.reset()
    expect(unwrap.next(0)).toBe(0)
    expect(unwrap.next(4_294_967_295)).toBe(-1)
  })

  test('outside 32 bits is misuse', () => {
    expect(() => new Unwrapper().next(4_294_967_296)).toThrow(RangeError)
    expect(() => new Unwrapper().next(0.5)).toThrow(RangeError)
  })
})

describe('counts of a channel', () => {
  const amps: ChannelDeclaration = {
    index: 1,
    name: 'amps',
    quantity: 'current',
    scale: -0.005,
    offset: 10,
    kind: 'unsigned',
    bits: 12,
    lowCount: 10,
    highCount: 4000,
    noise: 0.003,
    apertureSec: 1e-4,
    delaySec: 2e-5,
    gainUncertainty: 0.002,
    zeroUncertainty: 0.004,
  }

  // P-5.5
  test('become SI by scale and offset, and know their range also when the scale is negative', () => {
    expect(countToSi(amps, 2000)).toBe(0)
    expect(traitsOf(amps)).toMatchObject({ rangeLow: -10, rangeHigh: 9.95, resolution: 0.005 })
    expect([9, 10, 11, 3999, 4000].map(c => isSaturated(amps, c))).toEqual([
      true,
      true,
      false,
      false,
      true,
    ])
    expect(countBounds('signed', 12)).toEqual({ low: -2048, high: 2047 })
    expect(countBounds('modulo', 16)).toEqual({ low: 0, high: 65_535 })
  })

  test('of an encoder run on both ways round', () => {
    const encoder = new ModuloUnwrapper(12)
    expect([4000, 4090, 3, 4095, 2046].map(c => encoder.next(c))).toEqual([
      4000, 4090, 4099, 4095, 6142,
    ])
    expect(isSaturated({ ...amps, kind: 'modulo' }, 4095)).toBe(false)
    expect(traitsOf({ ...amps, kind: 'modulo' })).toMatchObject({ rangeLow: null, rangeHigh: null })
    expect(() => new ModuloUnwrapper(17)).toThrow(RangeError)
  })
})
