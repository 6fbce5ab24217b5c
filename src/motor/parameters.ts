/**
 * The brushed DC motor of DEVELOPERS.md, "The motor's equations":
 *   L di/dt = v − R(T) i − k_e ω − V_b b(i),      b(i) = tanh(i / I_b), or sgn(i) where I_b = 0
 *   J dω/dt = k_t i − T_c sgn ω − B ω − B_d |ω| − C ω|ω| − T_offset − T_load
 * A shaft at rest stays so while |k_t i − T_offset − T_load| ≤ T_c + static excess. All SI; R and k at
 * the reference temperature.
 */
export interface MotorParameters {
  readonly resistanceOhm: number
  readonly inductanceHenry: number
  readonly backEmfConstantVsPerRad: number
  readonly torqueConstantNmPerA: number
  readonly brushDropVolt: number
  /** Current at which the drop has reached 76 % of its full value; 0 for the plain sgn law. */
  readonly brushKneeAmp: number
  readonly coulombTorqueNm: number
  /** By how much the break-away torque exceeds the sliding one. */
  readonly staticExcessNm: number
  readonly viscousNmsPerRad: number
  /** Half the difference of the viscous coefficient between positive and negative direction. */
  readonly viscousDifferenceNmsPerRad: number
  readonly windageNms2PerRad2: number
  readonly offsetTorqueNm: number
  readonly inertiaKgM2: number
  /** Relative rise of the winding resistance a unit of ∫i²dt while no heat is lost, 1/(A² s). */
  readonly heatingPerA2s: number
  /** Rate at which the winding's excess temperature decays, 1/s. */
  readonly coolingPerSec: number
}

/** One point of the space in which a fit moves: the motor and what calibration left of the zeros. */
export interface ModelPoint extends MotorParameters {
  readonly voltageZeroVolt: number
  readonly currentZeroAmp: number
  readonly speedZeroRadPerSec: number
}

/**
 * Directions in which a model point moves. Scale parameters move in their logarithm (and stay
 * positive), the others linearly; friction, drop and heat stay at or above zero.
 */
const MOVES = {
  lnResistance: { of: 'resistanceOhm', by: 'logarithm' },
  lnInductance: { of: 'inductanceHenry', by: 'logarithm' },
  lnBackEmf: { of: 'backEmfConstantVsPerRad', by: 'logarithm' },
  lnTorque: { of: 'torqueConstantNmPerA', by: 'logarithm' },
  lnInertia: { of: 'inertiaKgM2', by: 'logarithm' },
  viscous: { of: 'viscousNmsPerRad', by: 'bounded' },
  brushDrop: { of: 'brushDropVolt', by: 'bounded' },
  lnKnee: { of: 'brushKneeAmp', by: 'logarithm' },
  coulomb: { of: 'coulombTorqueNm', by: 'bounded' },
  staticExcess: { of: 'staticExcessNm', by: 'bounded' },
  offset: { of: 'offsetTorqueNm', by: 'value' },
  windage: { of: 'windageNms2PerRad2', by: 'bounded' },
  viscousDifference: { of: 'viscousDifferenceNmsPerRad', by: 'value' },
  heating: { of: 'heatingPerA2s', by: 'bounded' },
  cooling: { of: 'coolingPerSec', by: 'bounded' },
  voltageZero: { of: 'voltageZeroVolt', by: 'value' },
  currentZero: { of: 'currentZeroAmp', by: 'value' },
  speedZero: { of: 'speedZeroRadPerSec', by: 'value' },
} as const satisfies Record<string, { of: keyof ModelPoint; by: 'logarithm' | 'bounded' | 'value' }>

export type Coordinate = keyof typeof MOVES

export function coordinateValue(point: ModelPoint, coordinate: Coordinate): number {
  const { of, by } = MOVES[coordinate]
  return by === 'logarithm' ? Math.log(point[of]) : point[of]
}

export const isBounded = (coordinate: Coordinate) => MOVES[coordinate].by === 'bounded'

/** Change of the physical quantity a unit step of its coordinate. */
export function coordinateSlope(point: ModelPoint, coordinate: Coordinate): number {
  const { of, by } = MOVES[coordinate]
  return by === 'logarithm' ? point[of] : 1
}

/**
 * The point after a step along each coordinate. Where `tied`, the torque constant moves with
 * `lnBackEmf`. Bounded coordinates stop at zero.
 */
export function movePoint(
  point: ModelPoint,
  coordinates: readonly Coordinate[],
  steps: ArrayLike<number>,
  tied: boolean,
): ModelPoint {
  const next: { -readonly [K in keyof ModelPoint]: number } = { ...point }
  coordinates.forEach((coordinate, j) => {
    const { of, by } = MOVES[coordinate]
    if (by === 'logarithm') next[of] *= Math.exp(steps[j]!)
    else next[of] += steps[j]!
    if (by === 'bounded') next[of] = Math.max(0, next[of])
    if (tied && coordinate === 'lnBackEmf') next.torqueConstantNmPerA *= Math.exp(steps[j]!)
  })
  return next
}
