import { failure, type Result, success } from '../base/result.ts'
import type { FitDocument } from '../contract/fit-document.ts'
import {
  assumptionsOf,
  type CurvePoint,
  curvePoint,
  type FittedMotor,
  fittedMotorOf,
  stallPoint,
  stallTorqueNm,
} from './motor-curves.ts'

/** What a motor does at a voltage and a winding temperature. All SI, uncertainties standard. */
export interface Prediction {
  readonly schema: 'predict/1'
  readonly motor: string
  readonly voltageVolt: number
  readonly windingCelsius: number
  /** What it rests on without its being a result of the fit; empty where everything was determined. */
  readonly assumptions: readonly string[]
  readonly noLoad: CurvePoint
  readonly stall: ReturnType<typeof stallPoint>
  /** At the load torque asked for; null where none was, or where the motor does not carry it. */
  readonly operatingPoint: CurvePoint | null
  /** From no load to stall. */
  readonly motoring: readonly CurvePoint[]
  /** The load drives: from minus the stall torque to no load; the machine generates. */
  readonly driven: readonly CurvePoint[]
  /** The same two for the reversed voltage. */
  readonly reversed: {
    readonly motoring: readonly CurvePoint[]
    readonly driven: readonly CurvePoint[]
  }
}

export interface PredictionOrder {
  readonly voltageVolt: number
  readonly windingCelsius: number
  readonly loadTorqueNm: number | null
}

const CURVE_POINTS = 41

/** Fails with one line where the fit lacks what a prediction needs, or the load is more than the motor carries. */
export function predict(fit: FitDocument, order: PredictionOrder): Result<Prediction, string> {
  const motor = fittedMotorOf(fit)
  if (typeof motor === 'string') return failure(motor)
  const { voltageVolt: volt, windingCelsius: celsius, loadTorqueNm } = order
  const stallNm = stallTorqueNm(motor, volt, celsius)
  if (!(stallNm * Math.sign(volt) > 0)) {
    return failure(
      `${volt} V do not turn this motor: brush drop and friction take it all; a higher voltage does`,
    )
  }
  if (loadTorqueNm !== null && loadTorqueNm * Math.sign(volt) >= Math.abs(stallNm)) {
    return failure(
      `a load of ${loadTorqueNm} N·m is at or above the stall torque of ${stallNm.toPrecision(4)} N·m at ${volt} V: the motor would stand still`,
    )
  }
  const at = (torqueNm: number) => curvePoint(motor, volt, celsius, torqueNm)
  return success({
    schema: 'predict/1',
    motor: fit.motor,
    voltageVolt: volt,
    windingCelsius: celsius,
    assumptions: assumptionsOf(fit),
    noLoad: at(0),
    stall: stallPoint(motor, volt, celsius),
    operatingPoint: loadTorqueNm === null ? null : at(loadTorqueNm),
    ...curves(motor, volt, celsius),
    reversed: curves(motor, -volt, celsius),
  })
}

function curves(motor: FittedMotor, volt: number, celsius: number) {
  const stallNm = stallTorqueNm(motor, volt, celsius)
  const along = (from: number, to: number) =>
    Array.from({ length: CURVE_POINTS }, (_, i) =>
      curvePoint(motor, volt, celsius, from + ((to - from) * i) / (CURVE_POINTS - 1)),
    )
  return { motoring: along(0, stallNm), driven: along(-stallNm, 0) }
}
