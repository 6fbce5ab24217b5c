import { quantityText } from '../base/quantity-text.ts'
import type { FitDocument } from '../contract/fit-document.ts'
import { covarianceOf } from '../contract/motor-estimate.ts'
import { workingValue } from '../contract/working-value.ts'
import {
  type SteadyMotor,
  type SteadyPoint,
  speedAtTorque,
  steadyPoint,
} from '../motor/steady-state.ts'
import { resistanceRatio } from '../motor/winding-temperature.ts'
import { PARAMETER_FACTS, type ParameterName } from '../records/parameter.ts'
import { propagate } from '../statistics/propagation.ts'

/** What the curves of a fitted motor need, in the order of its covariance. */
const USED = [
  'resistance',
  'backEmfConstant',
  'torqueConstant',
  'brushDrop',
  'coulombTorque',
  'viscousCoefficient',
  'windageCoefficient',
  'offsetTorque',
] as const satisfies readonly ParameterName[]

export interface FittedMotor {
  /** At the reference temperature, in the order of `USED`; what the fit has not is nil. */
  readonly values: readonly number[]
  readonly covariance: readonly (readonly number[])[]
  readonly referenceCelsius: number
}

/** Why there are no curves, in words; else what they are drawn from. */
export function fittedMotorOf(fit: FitDocument): FittedMotor | string {
  const missing = (['resistance', 'backEmfConstant', 'torqueConstant'] as const).filter(
    name => fit.parameters[name].value === null,
  )
  if (missing.length > 0)
    return `Not to be told yet: ${missing.map(name => lacking(fit, name)).join('; ')}.`
  const used = USED.map(name => workingValue(fit, name))
  return {
    values: used.map(each => each?.value ?? 0),
    covariance: covarianceOf(
      fit,
      USED,
      used.map(each => each?.standardUncertainty ?? 0),
    ),
    referenceCelsius: fit.referenceTemperatureCelsius,
  }
}

const lacking = (fit: FitDocument, name: ParameterName) => {
  const { reason } = fit.parameters[name]
  return `${PARAMETER_FACTS[name].label.toLowerCase()} not determined${reason ? ` (${reason})` : ''}`
}

/** What the curves rest on without its being a result, in lines of text. */
export function assumptionsOf(fit: FitDocument): string[] {
  return USED.flatMap(name => {
    const { status } = fit.parameters[name]
    if (status !== 'not-determined') return []
    const { label, unit } = PARAMETER_FACTS[name]
    const beside = workingValue(fit, name)
    return beside === null
      ? [`${label} not determined: taken as nil, without a share in the uncertainties`]
      : [
          `${label} not determined: taken as ${quantityText(beside.value, unit, beside.standardUncertainty).text}, beside which the others were found`,
        ]
  })
}

export function steadyMotor(
  { referenceCelsius }: FittedMotor,
  values: readonly number[],
  celsius: number,
): SteadyMotor {
  return {
    resistanceOhm: values[0]! * resistanceRatio(celsius, referenceCelsius),
    backEmfConstantVsPerRad: values[1]!,
    torqueConstantNmPerA: values[2]!,
    brushDropVolt: values[3]!,
    coulombTorqueNm: values[4]!,
    viscousNmsPerRad: values[5]!,
    windageNms2PerRad2: values[6]!,
    offsetTorqueNm: values[7]!,
  }
}

/** A number with its standard uncertainty; null where it means nothing at that point. */
export interface Uncertain {
  readonly value: number
  readonly standardUncertainty: number
}

export type CurveName = 'speed' | 'current' | 'mechanicalPower' | 'efficiency'

export interface CurvePoint extends Readonly<Record<CurveName, Uncertain | null>> {
  readonly torqueNm: number
}

/** Motor at a voltage, a winding temperature and a load torque. */
export function curvePoint(
  motor: FittedMotor,
  volt: number,
  celsius: number,
  torqueNm: number,
): CurvePoint {
  // Every quantity asks for the same few neighbours of the fitted motor.
  const solved = new Map<string, SteadyPoint>()
  const at = (values: readonly number[]): SteadyPoint => {
    const key = values.join()
    const before = solved.get(key)
    if (before) return before
    const steady = steadyMotor(motor, values, celsius)
    const point = steadyPoint(steady, volt, speedAtTorque(steady, volt, torqueNm))
    solved.set(key, point)
    return point
  }
  const uncertain = (of: (point: SteadyPoint) => number | null): Uncertain | null => {
    if (of(at(motor.values)) === null) return null
    return propagate(x => of(at(x)) ?? 0, motor.values, motor.covariance)
  }
  return {
    torqueNm,
    speed: uncertain(point => point.speedRadPerSec),
    current: uncertain(point => point.currentAmp),
    // The load's torque, not the little that the root leaves of it.
    mechanicalPower: uncertain(point => torqueNm * point.speedRadPerSec),
    efficiency: uncertain(point =>
      point.electricalWatt > 0 && point.mechanicalWatt >= 0
        ? (torqueNm * point.speedRadPerSec) / point.electricalWatt
        : null,
    ),
  }
}

/** Voltage for which the fit states stall and no-load point; null where it states none. */
export function curveVoltage(fit: FitDocument): number | null {
  const volts = Object.values(fit.derived).map(line => line.atVolt)
  return (volts.find(volt => typeof volt === 'number' && volt > 0) as number | undefined) ?? null
}

/** Torque at which the motor stands still under the voltage. */
export function stallTorqueNm(motor: FittedMotor, volt: number, celsius: number): number {
  return steadyPoint(steadyMotor(motor, motor.values, celsius), volt, 0).torqueNm
}

/** Torque and current of the rotor at rest under the voltage: what it takes to hold it. */
export function stallPoint(
  motor: FittedMotor,
  volt: number,
  celsius: number,
): { readonly torque: Uncertain; readonly current: Uncertain } {
  const at = (values: readonly number[]) =>
    steadyPoint(steadyMotor(motor, values, celsius), volt, 0)
  return {
    torque: propagate(x => at(x).torqueNm, motor.values, motor.covariance),
    current: propagate(x => at(x).currentAmp, motor.values, motor.covariance),
  }
}

const POINTS = 33

/** From no load to just short of the stall, closer where the efficiency bends. Empty where the motor cannot turn. */
export function motorCurves(motor: FittedMotor, volt: number, celsius: number): CurvePoint[] {
  const stall = stallTorqueNm(motor, volt, celsius)
  if (!(stall > 0)) return []
  return Array.from({ length: POINTS }, (_, i) =>
    curvePoint(motor, volt, celsius, 0.9999 * stall * (i / (POINTS - 1)) ** 1.8),
  )
}

/** Shaft torque over speed, for drawing all four quadrants: driven both ways and short-circuited. */
export function quadrantTorques(
  motor: FittedMotor,
  volts: readonly number[],
  celsius: number,
  speeds: readonly number[],
): number[][] {
  const steady = steadyMotor(motor, motor.values, celsius)
  return volts.map(volt => speeds.map(speed => steadyPoint(steady, volt, speed).torqueNm))
}
