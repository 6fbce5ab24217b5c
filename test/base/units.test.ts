import { describe, expect, test } from 'vitest'
import { fromSi, parseUnit, toSi, unitsOf } from '../../src/base/units.ts'
import { expectRelative } from '../support/expect-relative.ts'

const conversions = [
  { reading: 60, unit: 'rpm', si: 2 * Math.PI, source: 'definition' },
  { reading: 1, unit: 'Hz', si: 2 * Math.PI, source: 'one turn a second' },
  { reading: 180, unit: 'deg', si: Math.PI, source: 'definition' },
  { reading: 0.25, unit: 'rev', si: Math.PI / 2, source: 'definition' },
  { reading: 293.15, unit: 'K', si: 20, source: 'ITS-90: 0 °C is 273.15 K' },
  { reading: 1, unit: 'ozf·in', si: 7.0615518e-3, source: 'NIST SP 811 appendix B.8, from memory' },
  {
    reading: 1,
    unit: 'gf·cm',
    si: 9.80665e-5,
    source: 'NIST SP 811: 1 kgf·m is 9.80665 N·m, from memory',
  },
  { reading: 5, unit: 'mN·m', si: 5e-3, source: 'prefix' },
  { reading: 7, unit: 'us', si: 7e-6, source: 'prefix' },
]

test.each(conversions)('$reading $unit is $si in SI and back ($source)', c => {
  const unit = parseUnit(c.unit)
  if (!unit.ok) throw new Error(unit.error)
  expectRelative(toSi(c.reading, unit.value), c.si, 2e-8)
  expectRelative(fromSi(toSi(c.reading, unit.value), unit.value), c.reading, 1e-12)
})

describe('spellings', () => {
  test.each([
    ['N.m', 'N·m'],
    ['Nm', 'N·m'],
    ['N⋅m', 'N·m'],
    ['1/min', 'rpm'],
    ['μs', 'us'],
    ['µs', 'us'],
    ['°C', 'degC'],
    [' mA ', 'mA'],
    ['oz·in', 'ozf·in'],
  ])('%s is understood as %s', (spelling, symbol) => {
    const unit = parseUnit(spelling)
    expect(unit.ok && unit.value.symbol).toBe(symbol)
  })

  test('an unknown unit is a failure that repeats it', () => {
    expect(parseUnit('furlong')).toEqual({ ok: false, error: "unknown unit 'furlong'" })
  })

  test('mega and milli are told apart', () => {
    expect(parseUnit('MV').ok).toBe(false)
  })

  test('messages can list the units of a dimension', () => {
    expect(unitsOf('speed')).toEqual(['rad/s', 'rpm', 'Hz'])
  })
})
