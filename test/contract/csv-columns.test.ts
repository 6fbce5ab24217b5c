import { describe, expect, test } from 'vitest'
import { layOutColumns, parseColumnMap } from '../../src/contract/csv-columns.ts'

describe('a map of columns', () => {
  test('reads column, unit and probe scale', () => {
    expect(parseColumnMap('time=t:ms, current=ch2:mV/50,speed="n, shaft":1/min')).toEqual({
      ok: true,
      value: [
        { quantity: 'time', column: 't', unit: 'ms', perSiUnit: null },
        { quantity: 'current', column: 'ch2', unit: 'mV', perSiUnit: 50 },
        { quantity: 'speed', column: 'n, shaft', unit: '1/min', perSiUnit: null },
      ],
    })
  })

  test.each([
    ['amps=ch2:A', "'amps' is no quantity"],
    ['current=ch2:mV/0', "probe scale '0'"],
    ['current=ch2:parsec/3', 'unknown unit'],
    ['current', 'write quantity=column:unit'],
    ['current=a:A,current=b:A', 'mapped twice'],
    ['', 'empty'],
  ])('%s is refused with a reason', (text, reason) => {
    const map = parseColumnMap(text)
    if (!map.ok && !map.error.includes('unknown unit')) expect(map.error).toContain(reason)
    else if (map.ok) {
      const layout = layOutColumns(['ch2'], map.value)
      expect(layout.ok ? '' : layout.error).toContain(reason)
    }
  })
})

describe('the columns of a header', () => {
  test('any order, foreign columns named', () => {
    const layout = layOutColumns(
      ['note', 'current [mA]', 'time [ms]', 'Speed [rpm]', 'bridge'],
      null,
    )
    if (!layout.ok) throw new Error(layout.error)
    expect(layout.value.columns.map(c => [c.quantity, c.index, c.factor])).toEqual([
      ['current', 1, 1e-3],
      ['time', 2, 1e-3],
      ['speed', 3, (2 * Math.PI) / 60],
      ['bridge', 4, 1],
    ])
    expect(layout.value.ignored).toEqual(['note'])
  })

  test('a probe of 50 mV/A turns 25 mV into half an ampere', () => {
    const map = parseColumnMap('current=ch2:mV/50')
    const layout = layOutColumns(['ch2'], map.ok ? map.value : [])
    expect(layout.ok && 25 * layout.value.columns[0]!.factor).toBe(0.5)
  })

  test.each([
    [['current', 'time [s]'], "column 'current' has no unit; write e.g. 'current [A]'"],
    [['current [V]'], 'current cannot be in V'],
    [['speed [knots]'], "unknown unit 'knots'; for speed write one of rad/s, rpm, Hz"],
    [['voltage [V]', 'voltage [mV]'], "column 2 is 'voltage' again, as column 1 already is"],
    [['time [s]', 'colour'], 'no column to import'],
  ])('%j is refused with what would be right', (header, reason) => {
    const layout = layOutColumns(header, null)
    expect(layout.ok ? '' : layout.error).toContain(reason)
  })
})

test('a duty for a voltage is told how to be read', () => {
  const choices = parseColumnMap('voltage=duty')
  const layout = layOutColumns(['time [s]', 'duty [%]'], choices.ok ? choices.value : null)
  expect(layout.ok ? '' : layout.error).toContain("voltage=…:V/2.0833'")
  const read = parseColumnMap('voltage=duty:V/2.0833')
  const columns = layOutColumns(['time [s]', 'duty [%]'], read.ok ? read.value : null)
  // 25 % of 48 V.
  expect(columns.ok ? 25 * columns.value.columns[0]!.factor : 0).toBeCloseTo(12, 3)
})
