import { median } from '../statistics/robust.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'
import { DRAG_TERMS } from './friction.ts'
import type { Moving } from './moving.ts'
import { type AnalysisWarning, type KnownParameters, type Measured, measured } from './result.ts'

/** Names and units of the drag terms as torques. */
const TORQUES = [
  ['coulombTorque', 'N m'],
  ['viscousCoefficient', 'N m s/rad'],
  ['windageCoefficient', 'N m s2/rad2'],
  ['offsetTorque', 'N m'],
] as const

/** The torque constant that turns currents into torques: measured, else the back-EMF constant in SI. */
export function constantFor(moving: Moving, known: KnownParameters): Estimate | null {
  return (
    known.torqueConstant ??
    known.backEmfConstant ??
    moving.openTerminals?.constant ??
    moving.backEmf?.backEmfConstant ??
    moving.balance?.backEmfConstant ??
    null
  )
}

/** Back-EMF constants, resistance where nothing was known of it, and friction and inertia as torques. */
export function movingValues(moving: Moving, known: KnownParameters): Record<string, Measured> {
  const values: Record<string, Measured> = {}
  const add = (name: string, unit: string, e: Estimate | null | undefined) => {
    if (e) values[name] = measured(unit, e.value, e.standardUncertainty, e.degreesOfFreedom)
  }
  add('backEmfConstant', 'V s/rad', moving.backEmf?.backEmfConstant)
  add('backEmfConstantOpenTerminals', 'V s/rad', moving.openTerminals?.constant)
  if (!known.resistance) {
    add('resistance', 'ohm', moving.balance?.resistance)
    add('brushDrop', 'V', moving.balance?.brushDrop)
    add('inductance', 'H', moving.balance?.inductance)
    if (!moving.backEmf) add('backEmfConstant', 'V s/rad', moving.balance?.backEmfConstant)
  }
  const constant = constantFor(moving, known)
  const { drag, coast } = moving
  for (const [j, [name, unit]] of TORQUES.entries()) {
    if (drag && constant && drag.terms.includes(DRAG_TERMS[j]!)) {
      add(
        name,
        unit,
        scaled(constant, drag.coefficients[j]!, drag.covariance[j]![j]!, drag.degreesOfFreedom),
      )
    }
  }
  if (coast) {
    const names = ['coulombOverInertia', 'viscousOverInertia', 'windageOverInertia']
    const units = ['rad/s2', '1/s', '1/rad']
    for (const [j, name] of names.entries()) {
      if (!coast.terms.includes(DRAG_TERMS[j]!)) continue
      values[name] = measured(
        units[j]!,
        coast.deceleration[j]!,
        Math.sqrt(coast.covariance[j]![j]!),
        coast.degreesOfFreedom,
      )
    }
  }
  const inertia = moving.inertiaPerTorqueConstant
  if (inertia && constant) {
    add(
      'inertia',
      'kg m2',
      scaled(constant, inertia.value, inertia.standardUncertainty ** 2, inertia.degreesOfFreedom),
    )
  }
  return values
}

function scaled(
  constant: Estimate,
  value: number,
  variance: number,
  degreesOfFreedom: number,
): Estimate {
  return {
    value: constant.value * value,
    standardUncertainty: Math.hypot(
      constant.value * Math.sqrt(variance),
      value * constant.standardUncertainty,
    ),
    degreesOfFreedom,
  }
}

/**
 * A constant below nil: the speed falls when the voltage rises, or the current is so large that the
 * resistance would take more than all of the voltage.
 */
export function polarityWarnings(moving: Moving): AnalysisWarning[] {
  const excess = ohmicExcess(moving)
  if (excess !== null) {
    return [
      {
        code: 'current-unit',
        text: `the current would need ${excess} times the voltage across the winding's resistance alone; was it recorded in mA and declared as A, or was another motor locked?`,
      },
    ]
  }
  const constants = [moving.openTerminals?.constant, moving.backEmf?.backEmfConstant]
  if (!constants.some(k => k && k.value < -3 * k.standardUncertainty)) return []
  return [
    {
      code: 'speed-polarity',
      text: 'speed and voltage have opposite signs; turn the speed channel round',
    },
  ]
}

/**
 * R i over V in the middle of the levels, where it is above 1 while the shaft follows the voltage's sign; else null.
 * A shaft that is braked through its supply drives a current against the voltage, as large as its back-EMF will.
 */
function ohmicExcess({ backEmf, levels }: Moving): string | null {
  const ohm = backEmf?.resistance.value
  if (!ohm || !(ohm > 0)) return null
  const told = levels.flatMap(({ voltage, current, speed }) =>
    voltage && current && speed && voltage.value * speed.value > 0
      ? (ohm * current.value) / voltage.value
      : [],
  )
  if (told.length < levels.length / 2 || told.length === 0) return null
  const ratio = median(told)
  return ratio > 1 ? ratio.toPrecision(2) : null
}
