import { failure, type Result, success } from '../base/result.ts'
import { shorten } from './csv-cells.ts'

/** Stands for the unit of a column whose cells are clock times or ISO 8601 date-times: `time=Timestamp:clock`. */
export const CLOCK_UNIT = 'clock'

const NAMES: ReadonlySet<string> = new Set(['time', 'timestamp', 'date', 'datetime', 'clock'])
const STAMP =
  /^(?:(\d{4})-(\d\d)-(\d\d)[T ] *)?(\d\d?):(\d\d):(\d\d)(?:[.,](\d{1,9}))? *(?:Z|([+-])(\d\d):?(\d\d))?$/
const DAY_SEC = 86_400
/** Steps of a recorder that keeps its own rhythm lie within this share of each other. */
const EVEN = 0.1

/** True for the names that recorders give a column of clock times: Timestamp, Date/Time, … */
export const isClockName = (name: string): boolean =>
  NAMES.has(name.toLowerCase().replaceAll(/[^a-z]/g, ''))

export const isClockTime = (cell: string): boolean => STAMP.test(cell.trim())

/** Clock times as seconds from the first one's whole second; without dates they run on over midnight. */
export class ClockReader {
  #startSec = Number.NaN
  #lastSec = Number.NaN
  #nights = 0

  read(cell: string): Result<number, string> {
    const text = cell.trim()
    if (text === '') return success(Number.NaN)
    const match = STAMP.exec(text)
    if (!match)
      return failure(
        `'${shorten(text)}' is no clock time; write e.g. 14:03:22.125 or 2026-05-01T14:03:22.125`,
      )
    const [, year, month, day, hour, minute, second, fraction = '', sign, zoneHour, zoneMinute] =
      match
    const days = year ? Date.UTC(Number(year), Number(month) - 1, Number(day)) / 1000 : 0
    const zone = sign ? (Number(zoneHour) * 60 + Number(zoneMinute)) * 60 * Number(`${sign}1`) : 0
    // Whole seconds are taken off before the fraction comes in: a date alone takes ten of a double's digits.
    const whole = days + Number(hour) * 3600 + Number(minute) * 60 + Number(second) - zone
    if (!year && whole < this.#lastSec - DAY_SEC / 2) this.#nights++
    this.#lastSec = whole
    if (Number.isNaN(this.#startSec)) this.#startSec = whole
    return success(whole - this.#startSec + this.#nights * DAY_SEC + Number(`0.${fraction || '0'}`))
  }
}

/** How a column of clock times runs: its mean step, or why it cannot serve as the time. */
export function clockSteps(cells: readonly string[]): Result<number, string> {
  const reader = new ClockReader()
  const times: number[] = []
  for (const cell of cells) {
    const time = reader.read(cell)
    if (!time.ok) return time
    times.push(time.value)
  }
  const steps = times.slice(1).map((time, i) => time - times[i]!)
  if (steps.length === 0) return failure('a single row has no step')
  const usual = [...steps].sort((a, b) => a - b)[steps.length >> 1]!
  const digits = Math.max(...cells.map(cell => STAMP.exec(cell.trim())?.[7]?.length ?? 0))
  const slack = Math.max(EVEN * usual, 1.01 * 10 ** -digits)
  const odd = steps.findIndex(step => !(step > 0 && Math.abs(step - usual) <= slack))
  if (odd < 0) return success((times.at(-1)! - times[0]!) / steps.length)
  const found = `from '${shorten(cells[odd]!.trim())}' to '${shorten(cells[odd + 1]!.trim())}'`
  return failure(
    steps[odd]! > 0
      ? `its steps are not even (${found}, ${Number(usual.toPrecision(3))} s usually)`
      : `it does not rise (${found})`,
  )
}
