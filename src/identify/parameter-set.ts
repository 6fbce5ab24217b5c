import { DRAG_TERMS } from '../analysis/friction.ts'
import type { ParameterName } from '../records/parameter.ts'
import type { FixtureLoad } from '../records/test-run.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'
import type { MechanicalCombination } from './mechanical-combination.ts'
import type { SystematicPart } from './type-b.ts'

/** Estimates of the electrical side, at the reference temperature, with what they share. */
export interface ElectricalSide {
  readonly resistance: Estimate | null
  readonly brushDrop: Estimate | null
  readonly backEmfConstant: Estimate | null
  readonly inductance: Estimate | null
  readonly resistanceDrop: number
  readonly constantResistance: number
  readonly constantDrop: number
}

export interface TorqueSide {
  readonly torqueConstant: Estimate | null
  /** k_t is k_e and shares its uncertainty. */
  readonly tied: boolean
  readonly mechanical: MechanicalCombination | null
  readonly fixture: FixtureLoad | null
}

/** All parameters that have a value, with one covariance. */
export interface ParameterSet {
  readonly names: readonly ParameterName[]
  readonly values: Readonly<Partial<Record<ParameterName, number>>>
  readonly degreesOfFreedom: Readonly<Partial<Record<ParameterName, number>>>
  /** From the scatter of the readings alone. */
  readonly statistical: readonly (readonly number[])[]
}

/** Parameter of each column of a mechanical combination, and what of it the fixture takes. */
const TORQUES = [
  ['coulombTorque', 'coulombTorqueNm'],
  ['viscousCoefficient', 'viscousNmsPerRad'],
  ['windageCoefficient', null],
  ['offsetTorque', null],
  ['inertia', 'inertiaKgM2'],
] as const

const MUST_BE_POSITIVE: readonly ParameterName[] = [
  'resistance',
  'inductance',
  'backEmfConstant',
  'torqueConstant',
  'coulombTorque',
  'viscousCoefficient',
  'inertia',
]
/** A standard uncertainty beyond this share of the value: the data do not tell the parameter. */
const BELIEVABLE = 0.25
const EARNED = 0.5

/**
 * Drag and inertia as torques: T = k_t c − fixture, with cov(T_a, T_b) = k_t² cov(c_a, c_b) + c_a c_b u²(k_t).
 */
export function assembleParameters(electrical: ElectricalSide, torque: TorqueSide): ParameterSet {
  const names: ParameterName[] = []
  const values: Partial<Record<ParameterName, number>> = {}
  const degreesOfFreedom: Partial<Record<ParameterName, number>> = {}
  const add = (name: ParameterName, value: number, sigma: number, freedom: number) => {
    const limit = name === 'viscousCoefficient' ? EARNED : BELIEVABLE
    if (MUST_BE_POSITIVE.includes(name) && !(sigma <= limit * value)) return
    names.push(name)
    values[name] = value
    degreesOfFreedom[name] = freedom
  }
  const single = (name: ParameterName, e: Estimate | null) => {
    if (e) add(name, e.value, e.standardUncertainty, e.degreesOfFreedom)
  }
  single('resistance', electrical.resistance)
  single('inductance', electrical.inductance)
  single('backEmfConstant', electrical.backEmfConstant)
  single('torqueConstant', torque.torqueConstant)
  single('brushDrop', electrical.brushDrop)
  const { mechanical, torqueConstant, fixture } = torque
  const currents: Partial<Record<ParameterName, number>> = {}
  if (mechanical && torqueConstant) {
    for (const [j, [name, taken]] of TORQUES.entries()) {
      const shown =
        j === DRAG_TERMS.length
          ? mechanical.hasInertia
          : mechanical.hasDrag && mechanical.terms.includes(DRAG_TERMS[j]!)
      if (!shown) continue
      currents[name] = mechanical.values[j]!
      const less = taken && fixture ? fixture[taken] : 0
      const value = torqueConstant.value * mechanical.values[j]! - less
      const sigma = torqueConstant.value * Math.sqrt(mechanical.covariance[j]![j]!)
      add(name, value, sigma, mechanical.degreesOfFreedom)
    }
  }
  const u2 = (e: Estimate | null) => (e ? e.standardUncertainty ** 2 : 0)
  const constantVariance = u2(torqueConstant)
  const covariance = (a: ParameterName, b: ParameterName): number => {
    const [ca, cb] = [currents[a], currents[b]]
    if (ca !== undefined && cb !== undefined) {
      const [j, k] = [placeOf(a), placeOf(b)]
      return (
        torqueConstant!.value ** 2 * mechanical!.covariance[j]![k]! + ca * cb * constantVariance
      )
    }
    if (ca !== undefined) return ca * electricalCovariance('torqueConstant', b)
    if (cb !== undefined) return cb * electricalCovariance(a, 'torqueConstant')
    return electricalCovariance(a, b)
  }
  const electricalCovariance = (a: ParameterName, b: ParameterName): number => {
    const asConstant = (name: ParameterName) =>
      name === 'torqueConstant' && torque.tied ? 'backEmfConstant' : name
    const [x, y] = [asConstant(a), asConstant(b)].sort()
    if (x === y) {
      if (x === 'torqueConstant') return constantVariance
      return u2(electrical[x as 'resistance'])
    }
    if (x === 'brushDrop' && y === 'resistance') return electrical.resistanceDrop
    if (x === 'backEmfConstant' && y === 'resistance') return electrical.constantResistance
    if (x === 'backEmfConstant' && y === 'brushDrop') return electrical.constantDrop
    return 0
  }
  return {
    names,
    values,
    degreesOfFreedom,
    statistical: names.map(a => names.map(b => covariance(a, b))),
  }
}

function placeOf(name: ParameterName): number {
  return TORQUES.findIndex(([torque]) => torque === name)
}

/** The covariance with fully correlated systematic parts added. */
export function withSystematic(
  set: ParameterSet,
  parts: readonly SystematicPart[],
): readonly (readonly number[])[] {
  return set.statistical.map((row, j) =>
    row.map((value, k) =>
      parts.reduce(
        (sum, { effects }) => sum + (effects[set.names[j]!] ?? 0) * (effects[set.names[k]!] ?? 0),
        value,
      ),
    ),
  )
}

/** What the fixture's own uncertainty leaves in the motor's friction and inertia. */
export function fixtureParts(fixture: FixtureLoad | null): SystematicPart[] {
  if (!fixture) return []
  return [
    { source: 'inertia of the fixture', effects: { inertia: fixture.inertiaUncertaintyKgM2 } },
    {
      source: 'friction of the fixture',
      effects: {
        coulombTorque: fixture.coulombTorqueUncertaintyNm,
        viscousCoefficient: fixture.viscousUncertaintyNmsPerRad,
      },
    },
  ].filter(part => Object.values(part.effects).some(effect => effect > 0))
}
