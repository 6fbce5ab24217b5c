/**
 * A motor turning steadily, its winding at one temperature. Brush drop V_b sgn i (no current while the
 * voltage left for it is within the drop), friction as in DEVELOPERS.md:
 *   V = R i + V_b sgn i + k_e ω,   T = k_t i − T_c sgn ω − B ω − C ω|ω| − T_offset
 * All SI; resistance at the winding's temperature. Motoring current and torque positive with V > 0.
 */
export interface SteadyMotor {
  readonly resistanceOhm: number
  readonly backEmfConstantVsPerRad: number
  readonly torqueConstantNmPerA: number
  readonly brushDropVolt: number
  readonly coulombTorqueNm: number
  readonly viscousNmsPerRad: number
  readonly windageNms2PerRad2: number
  readonly offsetTorqueNm: number
}

export interface SteadyPoint {
  readonly speedRadPerSec: number
  readonly currentAmp: number
  /** At the shaft. */
  readonly torqueNm: number
  readonly electricalWatt: number
  readonly mechanicalWatt: number
  /** Output over input, motoring or generating; null where both flow in or nothing flows. */
  readonly efficiency: number | null
}

export function steadyCurrentAmp(motor: SteadyMotor, volt: number, speedRadPerSec: number): number {
  const rest = volt - motor.backEmfConstantVsPerRad * speedRadPerSec
  const left = Math.abs(rest) - motor.brushDropVolt
  return left <= 0 ? 0 : (Math.sign(rest) * left) / motor.resistanceOhm
}

/** Friction against rotation and offset; at standstill the sliding friction of a start in the sense of V. */
function dragTorqueNm(motor: SteadyMotor, speed: number, sense: number): number {
  return (
    motor.coulombTorqueNm * sense +
    motor.viscousNmsPerRad * speed +
    motor.windageNms2PerRad2 * speed * Math.abs(speed) +
    motor.offsetTorqueNm
  )
}

export function steadyPoint(motor: SteadyMotor, volt: number, speedRadPerSec: number): SteadyPoint {
  const currentAmp = steadyCurrentAmp(motor, volt, speedRadPerSec)
  const sense = speedRadPerSec === 0 ? Math.sign(volt) : Math.sign(speedRadPerSec)
  const torqueNm =
    motor.torqueConstantNmPerA * currentAmp - dragTorqueNm(motor, speedRadPerSec, sense)
  const electricalWatt = volt * currentAmp
  const mechanicalWatt = torqueNm * speedRadPerSec
  return {
    speedRadPerSec,
    currentAmp,
    torqueNm,
    electricalWatt,
    mechanicalWatt,
    efficiency: efficiencyOf(electricalWatt, mechanicalWatt),
  }
}

function efficiencyOf(electrical: number, mechanical: number): number | null {
  if (electrical > 0 && mechanical >= 0) return mechanical / electrical
  if (electrical < 0 && mechanical < 0) return electrical / mechanical
  return null
}

const MOST_STEPS = 100
const SPEED_TOLERANCE = 1e-13

/**
 * Speed at a shaft torque, turning in the sense of V; 0 where the torque is at or above that of the
 * stall. Shaft torque falls with speed, so the root is the only one; found by false position, the
 * stale end halved (the Illinois rule), as the curve is nearly straight.
 */
export function speedAtTorque(motor: SteadyMotor, volt: number, torqueNm: number): number {
  const sense = Math.sign(volt)
  const surplus = (speed: number) =>
    sense * (steadyPoint(motor, volt, sense * speed).torqueNm - torqueNm)
  let low = 0
  let atLow = sense === 0 ? 0 : surplus(0)
  if (!(atLow > 0)) return 0
  let high = 1.0001 * Math.abs(volt / motor.backEmfConstantVsPerRad)
  let atHigh = surplus(high)
  // A load that drives turns the shaft faster than the voltage alone can.
  while (atHigh > 0) {
    high *= 2
    atHigh = surplus(high)
  }
  let staleSide = 0
  for (let step = 0; step < MOST_STEPS && high - low > SPEED_TOLERANCE * high; step++) {
    const middle = (low * atHigh - high * atLow) / (atHigh - atLow)
    const atMiddle = surplus(middle)
    if (atMiddle === 0) return sense * middle
    if (atMiddle > 0) {
      low = middle
      atLow = atMiddle
      if (staleSide === 1) atHigh /= 2
      staleSide = 1
    } else {
      high = middle
      atHigh = atMiddle
      if (staleSide === -1) atLow /= 2
      staleSide = -1
    }
  }
  return (sense * (low + high)) / 2
}
