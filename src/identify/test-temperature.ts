import { resistanceRatio } from '../motor/winding-temperature.ts'
import type { TestRun } from '../records/test-run.ts'

/** How warm the winding was in a run, and who says so. */
export interface TestTemperature {
  readonly celsius: number
  readonly source: 'measured' | 'stated' | 'ambient' | 'assumed'
}

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

/** A resistance found at `from`, at `to` (both degC). */
export function resistanceAt(ohm: number, from: number, to: number): number {
  return ohm * resistanceRatio(to, from)
}
