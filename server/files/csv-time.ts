import { shorten } from '../../src/contract/csv-cells.ts'
import { CLOCK_UNIT, clockSteps, isClockName, isClockTime } from '../../src/contract/csv-clock.ts'
import {
  type ColumnChoice,
  type CsvColumn,
  clockColumn,
  findColumn,
  splitHeader,
} from '../../src/contract/csv-columns.ts'
import { statedInterval } from '../../src/contract/csv-interval.ts'
import type { NumberWriting } from '../../src/contract/csv-numbers.ts'

type Rows = readonly (readonly string[])[]

/** A column of clock times among those of a file, and whether it serves as the time. */
export interface FoundClock {
  /** Null where it is left out. */
  readonly column: CsvColumn | null
  readonly index: number
  readonly remark: string
}

/** A time chosen by hand whose cells are clock times needs no unit. */
export function withClockUnit(
  choices: readonly ColumnChoice[],
  header: readonly string[],
  rows: Rows,
): ColumnChoice[] {
  return choices.map(choice => {
    const index = findColumn(header, choice.column)
    const isOpen = choice.quantity === 'time' && choice.unit === null && index >= 0
    const isClock =
      isOpen && splitHeader(header[index]!).unit === null && hasClockTimes(rows, index)
    return isClock ? { ...choice, unit: CLOCK_UNIT } : choice
  })
}

/** Looks for clock times that rise by even steps in a file whose header names no time with a unit. */
export function findClock(header: readonly string[], rows: Rows): FoundClock | null {
  const heads = header.map(splitHeader)
  if (heads.some(({ name, unit }) => name.toLowerCase() === 'time' && unit !== null)) return null
  const index = heads.findIndex(
    ({ name, unit }, i) => unit === null && isClockName(name) && /\d:\d\d/.test(firstCell(rows, i)),
  )
  if (index < 0) return null
  const name = header[index]!.trim()
  const steps = clockSteps(cellsOf(rows, index))
  return steps.ok
    ? {
        column: clockColumn(index, name),
        index,
        remark: `column '${name}' holds clock times in steps of ${short(steps.value)} s: taken as the time, from its first row on`,
      }
    : { column: null, index, remark: `column '${name}' was not taken as the time: ${steps.error}` }
}

/** The interval that a preamble states, and how that is said. */
export function findInterval(
  preamble: Rows,
  writing: NumberWriting,
): { sec: number; remark: string } | null {
  const stated = statedInterval(preamble, writing)
  return (
    stated && {
      sec: stated.sec,
      remark: `no time column: the rows are taken as samples ${short(stated.sec)} s apart, as line ${stated.line} says ('${shorten(stated.text)}'); --interval <s> says otherwise`,
    }
  )
}

const cellsOf = (rows: Rows, index: number): string[] =>
  rows.flatMap(row => (row[index] === undefined || row[index].trim() === '' ? [] : [row[index]]))

const firstCell = (rows: Rows, index: number): string => cellsOf(rows.slice(0, 10), index)[0] ?? ''

const hasClockTimes = (rows: Rows, index: number): boolean => isClockTime(firstCell(rows, index))

const short = (value: number): number => Number(value.toPrecision(6))
