import type { MotorEstimate } from '../contract/motor-estimate.ts'
import type { OperatingPoint, PointQuantity } from '../contract/withstand-document.ts'
import { POINT_NAMES } from './point-names.ts'
import { type SteadyMotor, speedAtTorque, steadyPoint } from '../motor/steady-state.ts'
import type { ParameterName } from '../records/parameter.ts'
import { propagate } from '../statistics/propagation.ts'
import { type FindingContext, type MotorNumbers, motorPathOhm, seriesOhm } from './finding.ts'
import { FREE_RUN_NEEDS, motorBehind } from './free-run.ts'

type Values = Readonly<Record<PointQuantity, number>>

interface Corner {
  readonly supply: OperatingPoint['supply']
  readonly supplyVolt: number
  readonly windingCelsius: number
}

interface Recipe {
  readonly sense: 1 | -1
  readonly action: OperatingPoint['action']
  readonly corner: Corner
  readonly label: string
  readonly formula: string
  readonly validity: string
  /** The point, or why the drive does not get there. */
  readonly compute: (motor: MotorNumbers) => Values | string
}

/**
 * Where the motor works in the quadrants that the drive has: driving the load at full voltage, holding it back
 * at the same speed, and braking hardest from there; each with the weakest and with the strongest supply.
 *   drive:      V = (R + R_series) i + V_b + k_e ω,  T = k_t i − T_c − B ω − C ω²
 *   hold back:  k_t i = drag(ω) − T_load,  bridge voltage v = (R + R_bridge + R_wiring) i ± V_b + k_e ω
 *   brake:      i at the limit; with terminals shorted (k_e ω − V_b)/(R + R_bridge + R_wiring) where that is less
 * Duty is v over the supply, power v i; both leave out the supply's resistance when not driving at full voltage.
 */
export function operatingPoints(
  estimate: MotorEstimate,
  context: FindingContext,
): OperatingPoint[] {
  const absent = FREE_RUN_NEEDS.find(name => !estimate.names.includes(name))
  return recipes(context).map(recipe => work(recipe, estimate, absent ?? null))
}

function recipes(context: FindingContext): Recipe[] {
  const { drive } = context
  const corners: readonly Corner[] = [
    {
      supply: 'weak',
      supplyVolt: drive.supply.lowestVolt,
      windingCelsius: drive.windingLimitCelsius,
    },
    {
      supply: 'strong',
      supplyVolt: drive.supply.highestVolt,
      windingCelsius: drive.ambient.lowestCelsius,
    },
  ]
  const senses: readonly (1 | -1)[] = drive.quadrants === 4 ? [1, -1] : [1]
  const actions: readonly Recipe['action'][] =
    drive.quadrants === 1
      ? ['drive']
      : drive.load.torqueNm > 0
        ? ['drive', 'hold-back', 'brake']
        : ['drive', 'brake']
  return senses.flatMap(sense =>
    actions.flatMap(action => corners.map(corner => recipe(context, sense, action, corner))),
  )
}

function recipe(
  context: FindingContext,
  sense: 1 | -1,
  action: Recipe['action'],
  corner: Corner,
): Recipe {
  const { drive } = context
  const load = drive.load.torqueNm
  const limit = drive.currentLimit?.limitAmp ?? Number.POSITIVE_INFINITY
  const behind = (motor: MotorNumbers, ohms: number) =>
    motorBehind(motor, ohms, corner.windingCelsius, context.referenceTemperatureCelsius)
  const full = sense * corner.supplyVolt
  const driven = (motor: MotorNumbers): Values | string => {
    const steady = behind(motor, seriesOhm(drive))
    const speed = speedAtTorque(steady, full, sense * load)
    if (speed === 0) return 'the load takes more than the stall torque'
    const point = steadyPoint(steady, full, speed)
    if (Math.abs(point.currentAmp) > limit) {
      return `the load takes ${Math.abs(point.currentAmp).toPrecision(3)} A, above the limit of ${limit} A`
    }
    const bridgeVoltage = full - drive.supply.resistanceOhm * point.currentAmp
    return {
      speed,
      torque: sense * load,
      current: point.currentAmp,
      bridgeVoltage,
      duty: sense,
      supplyPower: bridgeVoltage * point.currentAmp,
    }
  }
  /** What the bridge has to apply so that a current flows at a speed. */
  const applied = (steady: SteadyMotor, speed: number, amp: number, torque: number): Values => {
    const bridgeVoltage =
      steady.resistanceOhm * amp +
      Math.sign(amp) * steady.brushDropVolt +
      steady.backEmfConstantVsPerRad * speed
    return {
      speed,
      torque,
      current: amp,
      bridgeVoltage,
      duty: bridgeVoltage / corner.supplyVolt,
      supplyPower: bridgeVoltage * amp,
    }
  }
  const held = (motor: MotorNumbers): Values | string => {
    const at = driven(motor)
    if (typeof at === 'string') return at
    const steady = behind(motor, motorPathOhm(drive))
    const amp = (dragNm(steady, at.speed) - sense * load) / steady.torqueConstantNmPerA
    if (Math.abs(amp) > limit) return overLimit(amp, limit)
    const point = applied(steady, at.speed, amp, -sense * load)
    return withinReach(point, context) ?? point
  }
  const braked = (motor: MotorNumbers): Values | string => {
    const at = driven(motor)
    if (typeof at === 'string') return at
    const steady = behind(motor, motorPathOhm(drive))
    const emf = Math.abs(at.speed) * steady.backEmfConstantVsPerRad
    const shorted = Math.max(0, emf - steady.brushDropVolt) / steady.resistanceOhm
    const amp = -sense * Math.min(limit, shorted)
    const torque = steady.torqueConstantNmPerA * amp - dragNm(steady, at.speed)
    const point = applied(steady, at.speed, amp, torque)
    // Shorted terminals are no voltage, whatever rounding leaves of it.
    return shorted <= limit ? { ...point, bridgeVoltage: 0, duty: 0, supplyPower: 0 } : point
  }
  const { label, formula, validity } = POINT_NAMES[action]
  return {
    sense,
    action,
    corner,
    label: `${sense === 1 ? 'Forward' : 'Backward'}, ${label}`,
    formula,
    validity,
    compute: { drive: driven, 'hold-back': held, brake: braked }[action],
  }
}

const overLimit = (amp: number, limit: number) =>
  `it takes ${Math.abs(amp).toPrecision(3)} A, above the limit of ${limit} A`

/** Why a drive that applies voltage in one direction only does not reach a point. */
function withinReach({ bridgeVoltage }: Values, { drive }: FindingContext): string | null {
  if (drive.quadrants !== 2 || bridgeVoltage >= 0) return null
  return 'shorted terminals do not hold the load back, and this drive applies no reverse voltage'
}

/** Friction and offset against the shaft at a speed. */
export function dragNm(steady: SteadyMotor, speed: number): number {
  return (
    steady.coulombTorqueNm * Math.sign(speed) +
    steady.viscousNmsPerRad * speed +
    steady.windageNms2PerRad2 * speed * Math.abs(speed) +
    steady.offsetTorqueNm
  )
}

function work(
  { sense, action, corner, label, formula, validity, compute }: Recipe,
  estimate: MotorEstimate,
  absent: ParameterName | null,
): OperatingPoint {
  const head = { sense, action, label, ...corner, formula, validity }
  if (absent) return { ...head, values: null, reason: `${absent} of the motor is not determined` }
  const numbers = (x: readonly number[]): MotorNumbers =>
    Object.fromEntries(estimate.names.map((name, i) => [name, x[i]!]))
  const point = compute(numbers(estimate.values))
  if (typeof point === 'string') return { ...head, values: null, reason: point }
  const quantity = (name: PointQuantity) => {
    const at = (x: readonly number[]) => {
      const near = compute(numbers(x))
      return typeof near === 'string' ? point[name] : near[name]
    }
    const { value, standardUncertainty } = propagate(at, estimate.values, estimate.covariance)
    return { value, standardUncertainty }
  }
  return {
    ...head,
    values: {
      speed: quantity('speed'),
      torque: quantity('torque'),
      current: quantity('current'),
      bridgeVoltage: quantity('bridgeVoltage'),
      duty: quantity('duty'),
      supplyPower: quantity('supplyPower'),
    },
    reason: null,
  }
}
