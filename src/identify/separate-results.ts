import { movingValues } from '../analysis/moving-values.ts'
import { type KnownParameters, type Measured, measured } from '../analysis/result.ts'
import type { SeparateResult } from '../contract/fit-document.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'
import { finiteOrNull } from './document.ts'
import { movingOf, type RunReading } from './run-readings.ts'

/** Inertia over torque constant of each run with the drag of all runs. */
export type InertiaOfRuns = ReadonlyMap<number, Estimate>

/** What each run says on its own, torques with the constant of all runs; keys `run-ID`. */
export function separateResults(
  readings: readonly RunReading[],
  known: KnownParameters,
  inertias: InertiaOfRuns,
): Record<string, SeparateResult> {
  const results: Record<string, SeparateResult> = {}
  for (const reading of readings) {
    const { run, analysis } = reading
    if (!analysis) continue
    const values = { ...analysis.values, ...asTorques(reading, known, inertias.get(run.id)) }
    results[`run-${run.id}`] = {
      run: run.id,
      kind: run.kind,
      method: analysis.method,
      values: Object.fromEntries(
        Object.entries(values)
          .filter(([, { value }]) => Number.isFinite(value))
          .map(([name, { unit, value, standardUncertainty }]) => [
            name,
            { unit, value, standardUncertainty: finiteOrNull(standardUncertainty) },
          ]),
      ),
    }
  }
  return results
}

function asTorques(
  reading: RunReading,
  known: KnownParameters,
  inertia: Estimate | undefined,
): Record<string, Measured> {
  const moving = movingOf(reading)
  if (!moving) return {}
  const constant = known.torqueConstant
  const values = movingValues(moving, known)
  if (!inertia || !constant) return values
  const share = Math.hypot(
    inertia.standardUncertainty / inertia.value,
    constant.standardUncertainty / constant.value,
  )
  const value = inertia.value * constant.value
  return {
    ...values,
    inertia: measured('kg m2', value, share * value, inertia.degreesOfFreedom),
  }
}
