import { describe, expect, test } from 'vitest'
import { numberCell } from '../../src/contract/csv-cells.ts'
import { type NumberWriting, tellWriting } from '../../src/contract/csv-numbers.ts'

const read = (text: string, writing: NumberWriting) => {
  const cell = numberCell(text, writing)
  return cell.ok ? cell.value : cell.error
}

describe('a cell as a number', () => {
  test.each<[NumberWriting, string, number]>([
    ['comma', '1,5', 1.5],
    ['comma', '0,125', 0.125],
    ['comma', '1.500', 1500],
    ['comma', '-12.345.678,5', -12_345_678.5],
    ['comma', '1,5E-3', 0.0015],
    ['point', '1.500', 1.5],
    ['point', '1,500', 1500],
    ['point', '+1,500.25', 1500.25],
    ['point', ' .5 ', 0.5],
    ['untold', '12', 12],
    ['untold', '0.5', 0.5],
    ['plain', '1.500', 1.5],
  ])('decimal %s: %s', (writing, text, value) => expect(read(text, writing)).toBe(value))

  test.each<NumberWriting>(['comma', 'point', 'untold', 'plain'])('a gap, %s', writing =>
    expect(read(' NaN', writing)).toBeNaN(),
  )

  test.each<[NumberWriting, string, string]>([
    ['comma', '12.5', "'12.5' has a point, but the decimal sign of the file is the comma; write"],
    ['comma', '0.125', "write '0,125', or say --decimal point if it is not"],
    ['comma', '1500.250', "write '1500,250'"],
    ['comma', '1.50.250', 'leave grouping signs out'],
    [
      'point',
      '1,5',
      "'1,5' has a comma, but the decimal sign of the file is the point; write '1.5'",
    ],
    ['point', '0,500', '--decimal comma'],
    ['untold', '1.500', "'1.500' may be 1.5 or 1500"],
    ['untold', '1,500', 'say --decimal comma for 1.5, --decimal point for 1500'],
    ['untold', '1,5', 'say --decimal comma or --decimal point'],
    ['plain', '1,500', "'1,500' is not a number"],
    ['comma', '1.500 rpm', "'1.500 rpm' is not a number"],
    ['comma', '1e999', "'1e999' is not a number"],
  ])('decimal %s: %s is refused with what would be right', (writing, text, reason) =>
    expect(read(text, writing)).toContain(reason),
  )
})

describe('how numbers are written, told from the first rows', () => {
  const tell = (rows: string[], isDividedByCommas = false, taken = [0, 1]) =>
    tellWriting(
      rows.map(row => row.split('|')),
      new Set(taken),
      isDividedByCommas,
    )

  test.each<[string, string[], boolean, NumberWriting]>([
    ['a comma with other than three digits behind', ['1.500|12,5'], false, 'comma'],
    ['a comma behind 0', ['1.500|0,125'], false, 'comma'],
    ['points that group twice', ['1.500.000|3'], false, 'comma'],
    ['both signs, the comma last', ['1.500,25|3'], false, 'comma'],
    ['both signs, the point last', ['1,500.25|3'], false, 'point'],
    ['points beside commas with three digits', ['1,500|12.5', '3,000|24.1'], false, 'point'],
    ['the same in quotes', ['1,500|12.5'], true, 'point'],
    ['quoted decimal commas', ['1,5|12,25'], true, 'comma'],
    ['points alone in a file divided by commas', ['1.500|2.250'], true, 'point'],
    ['four digits before the sign', ['1234.500|1.500'], false, 'point'],
    ['whole numbers', ['1|2'], false, 'untold'],
    ['whole numbers divided by commas', ['1|2'], true, 'plain'],
    ['words, dates and empty cells tell nothing', ['1|', 'on 1,5|01.02.2026'], false, 'untold'],
    ['columns left out, where those taken say nothing', ['1,500|2|0.5'], false, 'point'],
    ['columns taken before those left out', ['1,5|2|1.5'], false, 'comma'],
  ])('%s', (_, rows, isDividedByCommas, writing) =>
    expect(tell(rows, isDividedByCommas)).toBe(writing),
  )

  test.each([
    ['commas', ['3|12', '1,500|24'], { row: 1, column: 0 }],
    ['points', ['12|1.500', '24|3.000'], { row: 0, column: 1 }],
    ['both', ['1.500|2,250'], { row: 0, column: 1 }],
  ])('only %s with three digits behind: left open, by its place', (_, rows, place) =>
    expect(tell(rows)).toMatchObject(place),
  )
})
