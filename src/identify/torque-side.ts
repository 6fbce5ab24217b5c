import { DRAG_TERMS, type DragTerm } from '../analysis/friction.ts'
import type { ParameterName } from '../records/parameter.ts'
import type { FixtureLoad } from '../records/test-run.ts'
import { isCoarse } from '../signals/coarse-time.ts'
import { combineEstimates, type Estimate } from '../statistics/weighted-mean.ts'
import type { FixedEstimates } from './electrical-side.ts'
import { combineMechanical } from './mechanical-combination.ts'
import type { TurningRun } from './mechanical-rows.ts'
import type { TorqueSide } from './parameter-set.ts'
import { movingOf, type RunReading, stallOf } from './run-readings.ts'

export interface TorqueResult extends TorqueSide {
  /** k_t as torques or known inertias tell it, whether or not it was fixed. */
  readonly measured: Estimate | null
}

/** Parameter of each column of the mechanical combination. */
const COLUMNS: readonly ParameterName[] = [
  'coulombTorque',
  'viscousCoefficient',
  'windageCoefficient',
  'offsetTorque',
  'inertia',
]

/**
 * The torque constant and the torque equation. k_t is what the user fixed, else what torque sensors, known loads
 * and known inertias tell, else k_e: equal in SI.
 */
export function torqueSide(
  readings: readonly RunReading[],
  backEmfConstant: Estimate | null,
  fixed: FixedEstimates,
  freed: readonly ParameterName[],
): TorqueResult {
  const runs = readings.flatMap((reading): TurningRun[] => {
    const moving = movingOf(reading)
    if (!moving || isCoarse(reading.run.recording.timeSec)) return []
    const { addedInertiaKgM2, loadTorqueNm } = reading.run.conditions
    return [{ run: reading.run.id, moving, addedInertiaKgM2, loadTorqueNm }]
  })
  const fixture: FixtureLoad | null =
    readings.find(r => movingOf(r))?.run.conditions.fixture ?? null
  const slopes = readings.flatMap(reading => stallOf(reading)?.torque?.slope ?? [])
  const given = fixed.torqueConstant
  const first = given ?? (slopes.length > 0 ? combineEstimates(slopes) : backEmfConstant)
  const mechanical = combineMechanical(runs, {
    perTorque: first ? 1 / first.value : null,
    holdTorque: given !== undefined,
    freed: freedTerms(freed),
    held: heldColumns(fixed, first, fixture),
  })
  const told = mechanical?.perTorque
  const measuredHere = told && told.value > 3 * told.standardUncertainty ? [inverse(told)] : []
  const all = [...slopes, ...measuredHere]
  const measured = all.length > 0 ? combineEstimates(all) : null
  const tied = !given && !measured && backEmfConstant !== null && !freed.includes('torqueConstant')
  return {
    torqueConstant: given ?? measured ?? (tied ? backEmfConstant : null),
    tied,
    measured,
    mechanical,
    fixture,
  }
}

function inverse({ value, standardUncertainty, degreesOfFreedom }: Estimate): Estimate {
  return {
    value: 1 / value,
    standardUncertainty: standardUncertainty / value ** 2,
    degreesOfFreedom,
  }
}

function freedTerms(freed: readonly ParameterName[]): DragTerm[] {
  return DRAG_TERMS.filter((_, j) => freed.includes(COLUMNS[j]!))
}

/** Fixed torques of the bare motor as currents of motor and fixture together. */
function heldColumns(
  fixed: FixedEstimates,
  constant: Estimate | null,
  fixture: FixtureLoad | null,
): (number | null)[] {
  const added = [
    fixture?.coulombTorqueNm ?? 0,
    fixture?.viscousNmsPerRad ?? 0,
    0,
    0,
    fixture?.inertiaKgM2 ?? 0,
  ]
  return COLUMNS.map((name, j) => {
    const value = fixed[name]?.value
    return value === undefined || !constant ? null : (value + added[j]!) / constant.value
  })
}
