import type { ParameterName } from '../records/parameter.ts'
import type { Quantity } from '../records/quantity.ts'
import type { TestRun } from '../records/test-run.ts'

/** One systematic cause, fully correlated between the parameters that it moves. */
export interface SystematicPart {
  readonly source: string
  /** What one standard uncertainty of the cause does to each parameter. */
  readonly effects: Readonly<Partial<Record<ParameterName, number>>>
}

type Exponents = Readonly<Partial<Record<ParameterName, number>>>

/**
 * How each parameter scales with the gain of a channel when k_t follows k_e: volts in k_e, amperes in torques,
 * speed squared in B and J. With k_t measured by a torque sensor, torques scale with its gain instead.
 */
const TIED: Readonly<Partial<Record<Quantity, Exponents>>> = {
  voltage: {
    resistance: 1,
    inductance: 1,
    brushDrop: 1,
    backEmfConstant: 1,
    torqueConstant: 1,
    coulombTorque: 1,
    viscousCoefficient: 1,
    windageCoefficient: 1,
    offsetTorque: 1,
    inertia: 1,
  },
  current: {
    resistance: -1,
    inductance: -1,
    coulombTorque: 1,
    viscousCoefficient: 1,
    windageCoefficient: 1,
    offsetTorque: 1,
    inertia: 1,
  },
  speed: {
    backEmfConstant: -1,
    torqueConstant: -1,
    coulombTorque: -1,
    viscousCoefficient: -2,
    windageCoefficient: -3,
    offsetTorque: -1,
    inertia: -2,
  },
}

const MEASURED: typeof TIED = {
  voltage: { resistance: 1, inductance: 1, brushDrop: 1, backEmfConstant: 1 },
  current: { resistance: -1, inductance: -1, torqueConstant: -1 },
  speed: { backEmfConstant: -1, viscousCoefficient: -1, windageCoefficient: -2, inertia: -1 },
  torque: {
    torqueConstant: 1,
    coulombTorque: 1,
    viscousCoefficient: 1,
    windageCoefficient: 1,
    offsetTorque: 1,
    inertia: 1,
  },
}

type Values = Readonly<Partial<Record<ParameterName, number>>>

/** What the calibration of the channels leaves open, from the traits that the runs declare. */
export function calibrationParts(
  runs: readonly TestRun[],
  values: Values,
  torqueMeasured: boolean,
): SystematicPart[] {
  const exponents = torqueMeasured ? MEASURED : TIED
  const parts: SystematicPart[] = []
  for (const quantity of ['voltage', 'current', 'speed', 'torque'] as const) {
    const gain = largest(runs, quantity, 'gainUncertainty')
    const powers = exponents[quantity]
    if (gain > 0 && powers) {
      const effects = Object.entries(powers).flatMap(([name, power]) => {
        const value = values[name as ParameterName]
        return value === undefined ? [] : [[name, power * value * gain] as const]
      })
      parts.push({
        source: `calibration of ${quantity}, gain`,
        effects: Object.fromEntries(effects),
      })
    }
  }
  return [...parts, ...zeroParts(runs, values)]
}

/** A zero that is off moves what was read in one direction only: the drop and the dry friction. */
function zeroParts(runs: readonly TestRun[], values: Values): SystematicPart[] {
  if (runs.some(run => run.kind === 'zero')) return []
  const volts = largest(runs, 'voltage', 'zeroUncertainty')
  const amps = largest(runs, 'current', 'zeroUncertainty')
  const parts: SystematicPart[] = []
  const drop = values.brushDrop === undefined ? undefined : volts
  if (volts > 0 && drop !== undefined) {
    parts.push({ source: 'calibration of voltage, zero', effects: { brushDrop: drop } })
  }
  if (amps > 0) {
    const constant = values.torqueConstant
    parts.push({
      source: 'calibration of current, zero',
      effects: {
        ...(values.brushDrop === undefined || values.resistance === undefined
          ? {}
          : { brushDrop: values.resistance * amps }),
        ...(constant === undefined || values.coulombTorque === undefined
          ? {}
          : { coulombTorque: constant * amps }),
      },
    })
  }
  return parts
}

function largest(
  runs: readonly TestRun[],
  quantity: Quantity,
  trait: 'gainUncertainty' | 'zeroUncertainty',
): number {
  return Math.max(0, ...runs.map(run => run.recording.traits[quantity]?.[trait] ?? 0))
}
