import { describe, expect, test } from 'vitest'
import { ClockReader, clockSteps, isClockName, isClockTime } from '../../src/contract/csv-clock.ts'

const seconds = (cells: string[]) => {
  const reader = new ClockReader()
  return cells.map(cell => {
    const time = reader.read(cell)
    return time.ok ? time.value : time.error
  })
}

describe('clock times as seconds', () => {
  // Date-times as in ISO 8601-1:2019, 5.4; the leap day by the Gregorian rule.
  test.each<[string, string[], number[]]>([
    ['of a day', ['14:03:22.125', '14:03:22.250', '14:04:00'], [0.125, 0.25, 38]],
    ['with a comma', ['9:00:00,5', '09:00:01,0'], [0.5, 1]],
    ['over midnight', ['23:59:59', '00:00:01', '23:59:59', '00:00:00'], [0, 2, 86_400, 86_401]],
    ['over a leap day', ['2024-02-28T23:00:00Z', '2024-03-01T01:00:00Z'], [0, 93_600]],
    ['in two zones', ['2026-05-01 10:00:00+02:00', '2026-05-01 08:00:01Z'], [0, 1]],
    [
      'to the microsecond',
      ['2026-05-01T10:00:00.000001', '2026-05-01T10:00:00.000002'],
      [1e-6, 2e-6],
    ],
  ])('%s', (_, cells, expected) => expect(seconds(cells)).toEqual(expected))

  test.each(['01.05.2026 10:00', '10:00', '12.5', 'noon'])('%s is none', cell => {
    expect(isClockTime(cell)).toBe(false)
    expect(seconds([cell])[0]).toContain(`'${cell}' is no clock time; write e.g. 14:03:22.125`)
  })

  test('an empty cell is a gap', () => expect(seconds([' '])).toEqual([Number.NaN]))
})

test('names that recorders give such a column', () => {
  for (const name of ['Timestamp', 'Date/Time', 'time', 'DateTime', 'Time stamp'])
    expect(isClockName(name)).toBe(true)
  for (const name of ['start time', 'torque', '']) expect(isClockName(name)).toBe(false)
})

describe('even steps', () => {
  const at = (...millisec: number[]) =>
    millisec.map(ms => new Date(Date.UTC(2026, 4, 1) + ms).toISOString())

  test.each<[string, string[], number]>([
    ['as they are', at(0, 10, 20, 30), 0.01],
    ['rounded to the last digit', at(0, 1, 3, 4, 6), 0.0015],
    ['within a tenth', at(0, 1040, 1990, 3000), 1],
  ])('%s', (_, cells, sec) => {
    const steps = clockSteps(cells)
    expect(steps.ok && steps.value).toBeCloseTo(sec, 9)
  })

  test.each<[string, string[], string]>([
    [
      'a row that is missing',
      at(0, 100, 200, 400, 500),
      "not even (from '2026-05-01T00:00:00.200Z'",
    ],
    ['rows faster than the clock', at(0, 0, 1, 1), 'does not rise'],
    ['a clock that was set back', at(0, 100, 50), 'does not rise'],
    ['no clock time', ['10:00:00', 'soon'], "'soon' is no clock time"],
    ['a single row', at(0), 'a single row has no step'],
  ])('%s is told', (_, cells, reason) => {
    const steps = clockSteps(cells)
    expect(steps.ok ? '' : steps.error).toContain(reason)
  })
})
