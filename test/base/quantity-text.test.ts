import { describe, expect, test } from 'vitest'
import {
  intervalText,
  printedUnit,
  quantityText,
  readingText,
  shareText,
} from '../../src/base/quantity-text.ts'

const plain = (text: string) => text.replaceAll('\u00a0', ' ')

describe('quantities in concise notation', () => {
  // The first row is the GUM's own example of the form (JCGM 100:2008, 7.2.2: m_S = 100,021 47(35) g); the rest by hand.
  test.each([
    [100.02147, 'g', 0.00035, '100.02147(35) g'],
    [1.23456, 'ohm', 0.0034, '1.2346(34) Ω'],
    [0.719, 'ohm', 0.018, '719(18) mΩ'],
    [0.0285, 'N m/A', 0.0003, '28.50(30) mN·m/A'],
    [12.34, 'V', 1.2, '12.3(1.2) V'],
    [1234, 'V', 56, '1.234(56) kV'],
    [3.6e-5, 'N m s/rad', 2e-6, '36.0(2.0) µN·m·s/rad'],
    [5.2e-6, 'kg m2', 1.1e-7, '52.0(1.1) g·cm²'],
    [0.0123, 'kg m2', 0.0002, '0.01230(20) kg·m²'],
    [0.0000001, 'V', 0.52, '0(520) mV'],
    [-0.5, 'A', 0.0998, '−500(100) mA'],
    [293.15, 'K', 0.25, '293.15(25) K'],
  ])('%d %s with %d', (value, unit, uncertainty, text) => {
    expect(plain(quantityText(value, unit, uncertainty).text)).toBe(text)
  })

  test('a value without an uncertainty has four significant digits', () => {
    expect(plain(quantityText(0.0123456, 'A').text)).toBe('12.35 mA')
    expect(plain(quantityText(123456, 'ohm', null).text)).toBe('123.5 kΩ')
  })

  test('999.96 moves to the next prefix instead of showing 1000', () => {
    expect(plain(readingText(0.99996, 'V').text)).toBe('1.000 V')
  })

  test('what has no prefix is written with a power of ten where it is far from one', () => {
    expect(plain(readingText(5.59e15, '1', 3).text)).toBe('5.59×10¹⁵')
    expect(plain(readingText(-2.1e-9, '', 2).text)).toBe('−2.1×10⁻⁹')
    expect(plain(readingText(1234567, '', 7).text)).toBe('1234567')
  })

  test('a power of ten is taken out of number and uncertainty alike', () => {
    expect(plain(quantityText(3.14159e15, '1', 2.2e13).text)).toBe('3.142(22)×10¹⁵')
    expect(plain(quantityText(4.2e12, 'ohm', 3e11).text)).toBe('4200(300) GΩ')
    expect(plain(quantityText(6.2e-9, '1', 1.1e-9).text)).toBe('6.2(1.1)×10⁻⁹')
    expect(plain(intervalText(0, 1.11e20, 'kg m2').text)).toBe('(0.00 … 1.11)×10²⁰ kg·m²')
  })

  test('what is not a number is a dash without a unit', () => {
    expect(quantityText(null, 'ohm', 1).text).toBe('–')
    expect(readingText(Number.NaN, 'V').text).toBe('–')
  })

  test('zero keeps its unit and has no sign', () => {
    expect(plain(readingText(-0, 'V').text)).toBe('0 V')
    expect(plain(quantityText(-0.0000001, 'A', 0.02).text)).toBe('0(20) mA')
  })
})

test('an interval has both ends on one scale and to one digit', () => {
  expect(plain(intervalText(0.6837, 0.7543, 'ohm').text)).toBe('684 … 754 mΩ')
  expect(plain(intervalText(-1e-6, 3e-6, 'N m s/rad').text)).toBe('−1.0 … 3.0 µN·m·s/rad')
})

test('shares below a tenth keep a decimal', () => {
  expect(plain(shareText(0.034))).toBe('3.4 %')
  expect(plain(shareText(0.72))).toBe('72 %')
})

test('units of the records are set in type', () => {
  expect(printedUnit('N m s2/rad2')).toBe('N·m·s²/rad²')
  expect(printedUnit('V s/rad')).toBe('V·s/rad')
  expect(printedUnit('ohm')).toBe('Ω')
})
