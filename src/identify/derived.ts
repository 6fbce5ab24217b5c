import type { DerivedResult } from '../contract/fit-document.ts'
import type { ParameterName } from '../records/parameter.ts'
import { coverageFactor } from '../statistics/distributions.ts'
import { propagate } from '../statistics/propagation.ts'
import { finiteOrNull } from './document.ts'

/** What the derived quantities are computed from; null where not known. */
export interface DerivedInput {
  readonly values: Readonly<Partial<Record<ParameterName, number>>>
  /** Names in the order of the covariance; a value outside of it counts as exact. */
  readonly names: readonly ParameterName[]
  readonly covariance: readonly (readonly number[])[]
  /** Voltage for which stall, no-load point and powers are stated; null: they are left out. */
  readonly voltageVolt: number | null
  readonly degreesOfFreedom: number
}

type Values = Readonly<Partial<Record<ParameterName, number>>>

interface Quantity {
  readonly unit: string
  readonly label: string
  readonly needs: readonly ParameterName[]
  readonly atVoltage: boolean
  readonly of: (p: Required<Values>, volt: number) => number
}

/**
 * The usual figures of a motor at a voltage V (drop taken as constant, C as nil where not in the model):
 *   stall i = (V − V_b)/R, T = k_t i − T_c;  no load: k_t i = T_c + B ω + C ω², V = R i + V_b + k_e ω
 *   slope of speed over torque R/(k_t k_e);  motor constant k_t/√R;  τ_e = L/R;  τ_m = J R/(k_t k_e)
 */
const QUANTITIES: Readonly<Record<string, Quantity>> = {
  motorConstant: {
    unit: 'N m/W^0.5',
    label: 'Motor constant k/√R',
    needs: ['torqueConstant', 'resistance'],
    atVoltage: false,
    of: p => p.torqueConstant / Math.sqrt(p.resistance),
  },
  electricalTimeConstant: {
    unit: 's',
    label: 'Electrical time constant L/R',
    needs: ['inductance', 'resistance'],
    atVoltage: false,
    of: p => p.inductance / p.resistance,
  },
  mechanicalTimeConstant: {
    unit: 's',
    label: 'Mechanical time constant J R/k²',
    needs: ['inertia', 'resistance', 'torqueConstant', 'backEmfConstant'],
    atVoltage: false,
    of: p => (p.inertia * p.resistance) / (p.torqueConstant * p.backEmfConstant),
  },
  speedTorqueSlope: {
    unit: 'rad/(s N m)',
    label: 'Fall of speed with torque R/k²',
    needs: ['resistance', 'torqueConstant', 'backEmfConstant'],
    atVoltage: false,
    of: p => p.resistance / (p.torqueConstant * p.backEmfConstant),
  },
  stallCurrent: {
    unit: 'A',
    label: 'Stall current',
    needs: ['resistance'],
    atVoltage: true,
    of: (p, volt) => stallAmp(p, volt),
  },
  stallTorque: {
    unit: 'N m',
    label: 'Stall torque',
    needs: ['resistance', 'torqueConstant'],
    atVoltage: true,
    of: (p, volt) => p.torqueConstant * stallAmp(p, volt) - p.coulombTorque,
  },
  noLoadSpeed: {
    unit: 'rad/s',
    label: 'No-load speed',
    needs: ['resistance', 'torqueConstant', 'backEmfConstant'],
    atVoltage: true,
    of: (p, volt) => speedAt(p, volt, 0),
  },
  noLoadCurrent: {
    unit: 'A',
    label: 'No-load current',
    needs: ['resistance', 'torqueConstant', 'backEmfConstant', 'coulombTorque'],
    atVoltage: true,
    of: (p, volt) => dragTorque(p, speedAt(p, volt, 0)) / p.torqueConstant,
  },
  maximumPower: {
    unit: 'W',
    label: 'Maximum mechanical power',
    needs: ['resistance', 'torqueConstant', 'backEmfConstant'],
    atVoltage: true,
    of: (p, volt) => largest(torque => torque * speedAt(p, volt, torque), stallTorque(p, volt)),
  },
  maximumEfficiency: {
    unit: '1',
    label: 'Maximum efficiency',
    needs: ['resistance', 'torqueConstant', 'backEmfConstant', 'coulombTorque'],
    atVoltage: true,
    of: (p, volt) => largest(torque => efficiency(p, volt, torque), stallTorque(p, volt)),
  },
}

/** The parameters without which a derived quantity is not told; none of a quantity that tests tell themselves. */
export const neededFor = (quantity: string): readonly ParameterName[] =>
  QUANTITIES[quantity]?.needs ?? []

/** The derived quantities that the parameters at hand allow, uncertainties propagated with all correlations. */
export function deriveQuantities(input: DerivedInput): Record<string, DerivedResult> {
  const { values, names, covariance, voltageVolt, degreesOfFreedom } = input
  const derived: Record<string, DerivedResult> = {}
  const x = names.map(name => values[name]!)
  for (const [key, quantity] of Object.entries(QUANTITIES)) {
    if (quantity.atVoltage && voltageVolt === null) continue
    if (quantity.needs.some(name => values[name] === undefined)) continue
    const f = (at: readonly number[]) => {
      const moved = Object.fromEntries(names.map((name, j) => [name, at[j]!]))
      return quantity.of({ ...NONE, ...values, ...moved }, voltageVolt ?? 0)
    }
    const { value, standardUncertainty } = propagate(f, x, covariance)
    if (!Number.isFinite(value) || (quantity.atVoltage && value < 0)) continue
    const half = coverageFactor(degreesOfFreedom) * standardUncertainty
    const label = quantity.atVoltage
      ? `${quantity.label} at ${brief(voltageVolt!)} V`
      : quantity.label
    const stated = quantity.atVoltage ? { atVolt: voltageVolt } : {}
    if (!(half < value)) {
      derived[key] = { ...notTold(quantity.unit, label), ...stated }
      continue
    }
    derived[key] = {
      unit: quantity.unit,
      label,
      value,
      standardUncertainty: finiteOrNull(standardUncertainty),
      lower95: finiteOrNull(value - half),
      upper95: finiteOrNull(value + half),
      ...stated,
    }
  }
  return derived
}

/** What is as uncertain as it is large is no number to show: all of these are above nil. */
function notTold(unit: string, label: string): DerivedResult {
  return {
    unit,
    label,
    value: null,
    standardUncertainty: null,
    lower95: null,
    upper95: null,
    status: 'not-determined',
  }
}

/** The derived quantities without those that rest on a parameter that has no value. */
export function withoutUntold(
  derived: Readonly<Record<string, DerivedResult>>,
  isTold: (name: ParameterName) => boolean,
): Record<string, DerivedResult> {
  return Object.fromEntries(
    Object.entries(derived).map(([key, result]) => {
      const rests = QUANTITIES[key]?.needs ?? []
      const { unit, label, atVolt } = result
      const stated = atVolt === undefined ? {} : { atVolt }
      return [key, rests.every(isTold) ? result : { ...notTold(unit, label), ...stated }]
    }),
  )
}

/** Terms that count as nil where the model does not have them. */
const NONE: Required<Values> = {
  resistance: Number.NaN,
  inductance: Number.NaN,
  backEmfConstant: Number.NaN,
  torqueConstant: Number.NaN,
  brushDrop: 0,
  coulombTorque: 0,
  staticTorque: 0,
  viscousCoefficient: 0,
  windageCoefficient: 0,
  offsetTorque: 0,
  inertia: Number.NaN,
}

function stallAmp(p: Required<Values>, volt: number): number {
  return Math.max(0, volt - p.brushDrop) / p.resistance
}

function stallTorque(p: Required<Values>, volt: number): number {
  return p.torqueConstant * stallAmp(p, volt) - p.coulombTorque
}

function dragTorque(p: Required<Values>, speed: number): number {
  return p.coulombTorque + p.viscousCoefficient * speed + p.windageCoefficient * speed * speed
}

/** Speed at a load torque: V − V_b = (R/k_t)(T + T_c + B ω + C ω²) + k_e ω, the root at or above nil. */
export function speedAt(p: Required<Values>, volt: number, torque: number): number {
  const perTorque = p.resistance / p.torqueConstant
  const a = perTorque * p.windageCoefficient
  const b = p.backEmfConstant + perTorque * p.viscousCoefficient
  const c = perTorque * (torque + p.coulombTorque) - (volt - p.brushDrop)
  // The root in this form keeps its digits for small a, and is −c/b for a = 0.
  return (-2 * c) / (b + Math.sqrt(b * b - 4 * a * c))
}

function efficiency(p: Required<Values>, volt: number, torque: number): number {
  const speed = speedAt(p, volt, torque)
  const amp = (torque + dragTorque(p, speed)) / p.torqueConstant
  return (torque * speed) / (volt * amp)
}

/** Largest value of a single-humped function over 0 … limit, by golden section. */
function largest(f: (x: number) => number, limit: number): number {
  const golden = (Math.sqrt(5) - 1) / 2
  let low = 0
  let high = limit
  for (let step = 0; step < 80; step++) {
    const a = high - golden * (high - low)
    const b = low + golden * (high - low)
    if (f(a) < f(b)) low = a
    else high = b
  }
  return f((low + high) / 2)
}

const brief = (value: number) => String(Number(value.toPrecision(4)))
