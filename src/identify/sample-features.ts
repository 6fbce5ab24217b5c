import { startingVoltages } from '../analysis/starting-voltage.ts'
import type { DerivedResult } from '../contract/fit-document.ts'
import { readSignals } from '../signals/run-signals.ts'
import type { LevelMean, SteadyLevel } from '../signals/steady-levels.ts'
import { mean, standardDeviation } from '../statistics/describe.ts'
import { coverageFactor } from '../statistics/distributions.ts'
import { finiteOrNull } from './document.ts'
import { movingOf, type RunReading } from './run-readings.ts'
import type { StallCombination } from './stall-combination.ts'

/** Fewest shaft positions whose resistances show a scatter. */
const FEWEST_POSITIONS = 3
/** Levels up to this share beyond the highest of the other direction still compare. */
const SAME_VOLTAGE = 0.1

/**
 * What tells one specimen from the next and is no parameter of the motor's equations:
 * - `startingVoltage`: mean over the directions tested, and `startingVoltageDifference` between them;
 * - `speedDifference`, `currentDifference`: positive over negative direction at one voltage, as a share of
 *   their mean (brushes off the neutral zone, friction of one direction);
 * - `resistanceScatter`: standard deviation of the resistance between locked shaft positions, as a share of
 *   the mean (uneven coils, a bad segment). Relative uncertainty 1/√(2(n − 1)).
 */
export function sampleFeatures(
  readings: readonly RunReading[],
  stall: StallCombination | null,
): Record<string, DerivedResult> {
  return { ...starts(readings), ...directions(readings), ...scatter(stall) }
}

function starts(readings: readonly RunReading[]): Record<string, DerivedResult> {
  const all = readings.flatMap(({ run }) =>
    run.kind === 'locked-rotor' || run.kind === 'zero' ? [] : startingVoltages(readSignals(run)),
  )
  const of = (direction: 1 | -1) => all.filter(start => start.direction === direction)
  const sides = ([1, -1] as const).flatMap(direction => {
    const found = of(direction)
    if (found.length === 0) return []
    const volts = found.map(start => start.volt)
    // Where the steps lie is alike each time: repeats do not lessen the uncertainty of the step.
    const step = Math.max(...found.map(start => start.standardUncertainty))
    const spread = volts.length > 1 ? standardDeviation(volts) / Math.sqrt(volts.length) : 0
    return [{ direction, value: mean(volts), u: Math.hypot(step, spread) }]
  })
  if (sides.length === 0) return {}
  const value = mean(sides.map(side => side.value))
  const u = Math.hypot(...sides.map(side => side.u)) / sides.length
  const results = { startingVoltage: result('V', 'Starting voltage', value, u) }
  const [plus, minus] = sides
  return plus && minus
    ? {
        ...results,
        startingVoltageDifference: result(
          'V',
          'Starting voltage, positive less negative direction',
          plus.value - minus.value,
          Math.hypot(plus.u, minus.u),
        ),
      }
    : results
}

/**
 * Both directions of one run, that with the highest voltage; of all runs together where none turned both ways.
 * Another run may have had another supply, load or temperature.
 */
function directions(readings: readonly RunReading[]): Record<string, DerivedResult> {
  const each = readings.map(reading => movingOf(reading)?.levels ?? [])
  const found = [...each, each.flat()].map(compareDirections)
  const own = found.slice(0, -1).flatMap(result => result ?? [])
  const best = own.reduce<Compared | null>((a, b) => (a && a.volt >= b.volt ? a : b), null)
  return (best ?? found.at(-1))?.results ?? {}
}

interface Compared {
  readonly volt: number
  readonly results: Record<string, DerivedResult>
}

function compareDirections(all: readonly SteadyLevel[]): Compared | null {
  const levels = all
    .filter(level => level.settled && level.voltage && level.speed)
    .sort((a, b) => Math.abs(a.voltage!.value) - Math.abs(b.voltage!.value))
  const plus = levels.filter(level => level.voltage!.value > 0)
  const minus = levels.filter(level => level.voltage!.value < 0)
  if (plus.length === 0 || minus.length === 0) return null
  const volt = Math.min(highestVolt(plus), highestVolt(minus))
  const compared = (name: string, label: string, of: (level: SteadyLevel) => LevelMean | null) => {
    const a = atVoltage(plus, volt, of)
    const b = atVoltage(minus, volt, of)
    if (!a || !b || !(a.value + b.value > 0)) return {}
    const middle = (a.value + b.value) / 2
    const u = Math.hypot(a.u, b.u) / middle
    return { [name]: result('1', label, (a.value - b.value) / middle, u) }
  }
  const where = `at ${Number(volt.toPrecision(3))} V, positive less negative direction, share of the mean (0.01 is 1 %)`
  const results = {
    ...compared('speedDifference', `Speed ${where}`, level => level.speed),
    ...compared('currentDifference', `Free-run current ${where}`, level => level.current),
  }
  return { volt, results }
}

const highestVolt = (levels: readonly SteadyLevel[]) => Math.abs(levels.at(-1)!.voltage!.value)

/** Magnitude at a voltage, on the straight line through the two levels beside it. */
function atVoltage(
  levels: readonly SteadyLevel[],
  volt: number,
  of: (level: SteadyLevel) => LevelMean | null,
): { value: number; u: number } | null {
  const points = levels.flatMap(level => {
    const found = of(level)
    return found
      ? [
          {
            volt: Math.abs(level.voltage!.value),
            value: Math.abs(found.value),
            u: found.standardUncertainty,
          },
        ]
      : []
  })
  const above = points.findIndex(point => point.volt >= volt)
  const high = points[above < 0 ? points.length - 1 : above]
  if (!high) return null
  const low = points[points.indexOf(high) - 1]
  if (!low || high.volt - low.volt < 1e-3 * volt) {
    return Math.abs(high.volt / volt - 1) < SAME_VOLTAGE ? high : null
  }
  const share = (volt - low.volt) / (high.volt - low.volt)
  return {
    value: low.value + share * (high.value - low.value),
    u: Math.hypot((1 - share) * low.u, share * high.u),
  }
}

function scatter(stall: StallCombination | null): Record<string, DerivedResult> {
  const ohms = stall?.eachOhm.map(each => each.estimate.value) ?? []
  if (ohms.length < FEWEST_POSITIONS) return {}
  const share = standardDeviation(ohms) / mean(ohms)
  const u = share / Math.sqrt(2 * (ohms.length - 1))
  const label = `Scatter of the resistance over ${ohms.length} shaft positions, share of the mean (0.01 is 1 %)`
  return { resistanceScatter: result('1', label, share, u) }
}

function result(unit: string, label: string, value: number, u: number): DerivedResult {
  const half = coverageFactor(Number.POSITIVE_INFINITY) * u
  return {
    unit,
    label,
    value,
    standardUncertainty: finiteOrNull(u),
    lower95: finiteOrNull(value - half),
    upper95: finiteOrNull(value + half),
  }
}
