import { describe, expect, test } from 'vitest'
import { statedInterval } from '../../src/contract/csv-interval.ts'
import type { NumberWriting } from '../../src/contract/csv-numbers.ts'
import { expectRelative } from '../support/expect-relative.ts'

const stated = (lines: string[], writing: NumberWriting = 'point') =>
  statedInterval(
    lines.map(line => line.split('|')),
    writing,
  )

describe('the interval of samples that a preamble states', () => {
  test.each<[string, number, NumberWriting?]>([
    ['Sample Interval|1.0E-03|s', 1e-3],
    ['Sample Interval|1.0E-03|s', 1e-3, 'comma'],
    ['Recorder 7|1|\nSample interval|1,0E-03|s', 1e-3, 'comma'],
    ['Increment|4E-06', 4e-6],
    ['XINCREMENT: 4e-6', 4e-6],
    ['Sampling period [ms]|2', 2e-3],
    ['Sampling period (µs)|2,5||', 2.5e-6, 'comma'],
    ['Sample rate|1000|Hz', 1e-3],
    ['# sample_rate = 2.5 kHz', 4e-4],
    ['Sampling frequency|1|MSa/s', 1e-6],
    ['Sample Rate|1,000|Hz', 1e-3],
    ['Sample Interval|0.002|0.002|s', 2e-3],
    ['Sample interval|500 ns', 5e-7],
    ['Sample rate|1000|Hz\nSample interval|1|ms', 1e-3],
  ])('%s: %d s', (lines, sec, writing) =>
    expectRelative(stated(lines.split('\n'), writing)!.sec, sec, 1e-12),
  )

  test('line and words, for the user to see', () =>
    expect(stated(['Bench 4', '', 'Sample Interval|1.0E-03|s|'])).toMatchObject({
      line: 3,
      text: 'Sample Interval 1.0E-03 s',
    }))

  test.each<[string, string, NumberWriting?]>([
    ['nothing', 'Bench 4|afternoon'],
    ['another rate', 'Baud rate|115200'],
    ['another frequency', 'PWM frequency|20000|Hz'],
    ['an unknown unit', 'Sample interval|5|ticks'],
    ['nil', 'Sample interval|0|s'],
    ['no number', 'Sample interval|auto|s'],
    ['two that disagree', 'Sample interval|1|ms\nSample rate|500|Hz'],
    ['channels that disagree', 'Sample interval|0.001|0.002|s'],
    ['a number that may be read in two ways', 'Sample rate|1,000|Hz', 'untold'],
  ])('%s: none', (_, lines, writing) => expect(stated(lines.split('\n'), writing)).toBeNull())
})
