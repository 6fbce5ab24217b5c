import { COPPER_ZERO_CELSIUS, resistanceRatio } from '../motor/winding-temperature.ts'
import type { TestRun } from '../records/test-run.ts'

/** How warm the winding was in a run, and who says so. */
export interface TestTemperature {
  readonly celsius: number
  readonly source: 'measured' | 'stated' | 'ambient' | 'assumed'
}

/** Standard uncertainty of a room temperature that nobody noted; common practice, no source. */
export const ASSUMED_UNCERTAINTY_KELVIN = 3

/**
 * Temperature of the winding at the start of a run: the first reading of its own sensor, what was stated, the
 * ambient, or else the reference temperature by assumption.
 */
export function testTemperature(run: TestRun, referenceCelsius: number): TestTemperature {
  const sensor = run.recording.columns.temperature?.find(value => !Number.isNaN(value))
  if (sensor !== undefined) return { celsius: sensor, source: 'measured' }
  const { windingCelsius, ambientCelsius } = run.conditions
  if (windingCelsius !== null) return { celsius: windingCelsius, source: 'stated' }
  const ambient =
    ambientCelsius ?? run.recording.columns.ambient?.find(value => !Number.isNaN(value))
  if (ambient !== undefined) return { celsius: ambient, source: 'ambient' }
  return { celsius: referenceCelsius, source: 'assumed' }
}

/** Relative standard uncertainty of a resistance referred to another temperature, from that of its own. */
export function temperatureShare({ celsius, source }: TestTemperature): number {
  return source === 'assumed' ? ASSUMED_UNCERTAINTY_KELVIN / (COPPER_ZERO_CELSIUS + celsius) : 0
}

/** A resistance found at `from`, at `to` (both degC). */
export function resistanceAt(ohm: number, from: number, to: number): number {
  return ohm * resistanceRatio(to, from)
}
