import { type SteadyMotor, speedAtTorque, steadyPoint } from '../motor/steady-state.ts'
import { resistanceRatio } from '../motor/winding-temperature.ts'
import type { ParameterName } from '../records/parameter.ts'
import { type FindingContext, type MotorNumbers, seriesOhm } from './finding.ts'

/** What a running motor needs; terms that a fit has not are nil. */
export const FREE_RUN_NEEDS: readonly ParameterName[] = [
  'resistance',
  'backEmfConstant',
  'torqueConstant',
  'brushDrop',
  'coulombTorque',
]

/** The motor behind a resistance in series, its winding at a temperature. */
export function motorBehind(
  motor: MotorNumbers,
  seriesOhms: number,
  celsius: number,
  referenceCelsius: number,
): SteadyMotor {
  return {
    resistanceOhm: motor.resistance! * resistanceRatio(celsius, referenceCelsius) + seriesOhms,
    backEmfConstantVsPerRad: motor.backEmfConstant!,
    torqueConstantNmPerA: motor.torqueConstant!,
    brushDropVolt: motor.brushDrop!,
    coulombTorqueNm: motor.coulombTorque!,
    viscousNmsPerRad: motor.viscousCoefficient ?? 0,
    windageNms2PerRad2: motor.windageCoefficient ?? 0,
    offsetTorqueNm: motor.offsetTorque ?? 0,
  }
}

/** Current of the unloaded motor at the highest supply, winding as cold as the surroundings can be. */
export function freeRunAmp(
  { drive, referenceTemperatureCelsius }: FindingContext,
  motor: MotorNumbers,
): number {
  const cold = drive.ambient.lowestCelsius
  const steady = motorBehind(motor, seriesOhm(drive), cold, referenceTemperatureCelsius)
  const volt = drive.supply.highestVolt
  return steadyPoint(steady, volt, speedAtTorque(steady, volt, 0)).currentAmp
}
