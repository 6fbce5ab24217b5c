import type { MotorEstimate } from '../contract/motor-estimate.ts'
import type { OperatingPoint } from '../contract/withstand-document.ts'
import { type SteadyMotor, steadyCurrentAmp } from '../motor/steady-state.ts'
import { type FindingContext, type MotorNumbers, motorPathOhm, seriesOhm } from './finding.ts'
import { FREE_RUN_NEEDS, motorBehind } from './free-run.ts'
import { dragNm } from './operating-points.ts'

/** Highest and lowest shaft torque that a drive can bring about at a speed. */
export interface ReachedTorque {
  readonly speedRadPerSec: number
  readonly mostNm: number
  readonly leastNm: number
}

const STEPS = 160

/**
 * The plane of torque and speed that a drive reaches with a motor at one corner of its supply: the current lies
 * between what full voltage either way (shorted terminals where it only brakes, none where it only drives) makes
 * flow, and within the limit. Empty where the motor lacks a parameter.
 */
export function torqueReach(
  { names, values }: MotorEstimate,
  { drive, referenceTemperatureCelsius }: FindingContext,
  { supplyVolt, windingCelsius }: Pick<OperatingPoint, 'supplyVolt' | 'windingCelsius'>,
): ReachedTorque[] {
  if (FREE_RUN_NEEDS.some(name => !names.includes(name))) return []
  const numbers: MotorNumbers = Object.fromEntries(names.map((name, i) => [name, values[i]!]))
  const behind = (ohms: number) =>
    motorBehind(numbers, ohms, windingCelsius, referenceTemperatureCelsius)
  const [driving, braking] = [behind(seriesOhm(drive)), behind(motorPathOhm(drive))]
  const top = supplyVolt / driving.backEmfConstantVsPerRad
  const lowest = drive.quadrants === 4 ? -top : 0
  const limit = drive.currentLimit?.limitAmp ?? Number.POSITIVE_INFINITY
  const flow = (volt: number, speed: number) => {
    const motor: SteadyMotor = volt * speed > 0 ? driving : braking
    return Math.min(limit, Math.max(-limit, steadyCurrentAmp(motor, volt, speed)))
  }
  return Array.from({ length: STEPS + 1 }, (_, i) => {
    const speed = lowest + ((top - lowest) * i) / STEPS
    const most = flow(supplyVolt, speed)
    const least =
      drive.quadrants === 4 ? flow(-supplyVolt, speed) : drive.quadrants === 2 ? flow(0, speed) : 0
    const torque = (amp: number) => driving.torqueConstantNmPerA * amp - dragNm(driving, speed)
    return { speedRadPerSec: speed, mostNm: torque(Math.max(most, least)), leastNm: torque(least) }
  })
}
