import { prepareRun } from '../../src/identify/prepare/prepare-run.ts'
import { type Coordinate, coordinateSlope, type ModelPoint } from '../../src/motor/parameters.ts'
import { RunObserver } from '../../src/motor/run-observer.ts'
import { cholesky, invertCholesky, triangleSize } from '../../src/numerics/symmetric.ts'
import type { ParameterName } from '../../src/records/parameter.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import { readSignals } from '../../src/signals/run-signals.ts'
import { brake, coast, drive, ownModelRun, type ScriptStep } from './own-model.ts'

/** A small motor of nobody's, as the fit's own equations have it. */
export const TRIAL_MOTOR: ModelPoint = {
  resistanceOhm: 1.2,
  inductanceHenry: 0.8e-3,
  backEmfConstantVsPerRad: 0.03,
  torqueConstantNmPerA: 0.03,
  brushDropVolt: 0.4,
  brushKneeAmp: 0.3,
  coulombTorqueNm: 0.006,
  staticExcessNm: 0,
  viscousNmsPerRad: 8e-6,
  viscousDifferenceNmsPerRad: 0,
  windageNms2PerRad2: 0,
  offsetTorqueNm: 0,
  inertiaKgM2: 1.5e-5,
  heatingPerA2s: 0,
  coolingPerSec: 0,
  voltageZeroVolt: 0,
  currentZeroAmp: 0,
  speedZeroRadPerSec: 0,
}

/** About a thousandth of each range, voltage included. */
export const TRIAL_NOISE = { voltage: 0.012, current: 0.01, speed: 0.4 }

const REFERENCE = 20
const RATE_HZ = 4000

export const LOCKED: readonly ScriptStep[] = [
  coast(0.0101),
  ...[2, 4, 6, 8].flatMap(volt => [
    drive(volt, 0.012),
    coast(0.005),
    drive(-volt, 0.012),
    coast(0.005),
  ]),
]
export const TURNING: readonly ScriptStep[] = [
  coast(0.0103),
  drive(12, 0.15),
  drive(6, 0.12),
  brake(0.08),
  coast(0.02),
  drive(-9, 0.15),
  drive(-12, 0.1),
  coast(0.7),
]

export function trialRuns(motor: ModelPoint, seed: number, rateHz = RATE_HZ): TestRun[] {
  const common = { rateHz, noise: TRIAL_NOISE, referenceCelsius: REFERENCE }
  const conditions = { ambientCelsius: REFERENCE, windingCelsius: REFERENCE }
  return [
    ownModelRun(1, 'locked-rotor', motor, LOCKED, { ...common, conditions, seed: 2 * seed }),
    ownModelRun(2, 'mixed', motor, TURNING, { ...common, conditions, seed: 2 * seed + 1 }),
  ]
}

/** Parameters of the trial and the coordinates in which the bound is computed. */
export const TRIAL_PARAMETERS: readonly (readonly [ParameterName, Coordinate])[] = [
  ['resistance', 'lnResistance'],
  ['inductance', 'lnInductance'],
  ['backEmfConstant', 'lnBackEmf'],
  ['brushDrop', 'brushDrop'],
  ['coulombTorque', 'coulomb'],
  ['viscousCoefficient', 'viscous'],
  ['inertia', 'lnInertia'],
]

/**
 * Cramér–Rao bound of each parameter under the trial's noise model: the inverse information of all
 * samples at the true values, noise of the voltage carried along.
 */
export function cramerRao(motor: ModelPoint): Map<ParameterName, number> {
  const coordinates: Coordinate[] = TRIAL_PARAMETERS.map(([, coordinate]) => coordinate)
  if (motor.brushKneeAmp > 0) coordinates.push('lnKnee')
  const n = coordinates.length
  const information = new Float64Array(triangleSize(n))
  for (const run of trialRuns(motor, 0)) {
    const prepared = prepareRun(readSignals(run), { merge: false, referenceCelsius: REFERENCE })
    const observer = new RunObserver(
      prepared,
      { coordinates, tied: true },
      { referenceCelsius: REFERENCE, magnetPerKelvin: 0 },
    )
    observer.setGains(motor, TRUE_NOISE, Number.POSITIVE_INFINITY)
    const options = { slopes: true, clip: Number.POSITIVE_INFINITY, cells: false }
    const sums = observer.evaluate(motor, options)
    for (let t = 0; t < information.length; t++) information[t]! += sums.information[t]!
  }
  const inverse = invertCholesky(cholesky(information, n)!, n)
  return new Map(
    TRIAL_PARAMETERS.map(([name, coordinate], j) => [
      name,
      coordinateSlope(motor, coordinate) * Math.sqrt(inverse[j]![j]!),
    ]),
  )
}

const TRUE_NOISE = {
  voltage: TRIAL_NOISE.voltage ** 2,
  current: TRIAL_NOISE.current ** 2,
  speed: TRIAL_NOISE.speed ** 2,
  openVoltage: TRIAL_NOISE.voltage ** 2,
  loadTorque: 0,
  ripple: 0,
  openRipple: 0,
  resistanceRipple: 0,
  currentFactor: 1,
  speedFactor: 1,
  torque: 0,
  torqueRipple: 0,
}

export function trialTruth(motor: ModelPoint): Map<ParameterName, number> {
  return new Map<ParameterName, number>([
    ['resistance', motor.resistanceOhm],
    ['inductance', motor.inductanceHenry],
    ['backEmfConstant', motor.backEmfConstantVsPerRad],
    ['brushDrop', motor.brushDropVolt],
    ['coulombTorque', motor.coulombTorqueNm],
    ['viscousCoefficient', motor.viscousNmsPerRad],
    ['inertia', motor.inertiaKgM2],
  ])
}
