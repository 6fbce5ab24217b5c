/**
 * A motor as two masses in a row: winding, housing (with the magnets), ambient air.
 *   C_w dT_w/dt = P_w − (T_w − T_h)/R_1
 *   C_h dT_h/dt = P_h + (T_w − T_h)/R_1 − (T_h − T_a)/R_2
 * Each mass has one temperature; the resistances do not change with it (free convection in still air makes
 * R_2 fall a little as the housing warms). Thermal resistances in K/W, heat capacities in J/K.
 */
export interface TwoMass {
  readonly windingToHousingKPerW: number
  readonly housingToAmbientKPerW: number
  readonly windingJPerK: number
  readonly housingJPerK: number
}

export interface Temperatures {
  readonly windingCelsius: number
  readonly housingCelsius: number
}

/** Heat put into each mass, W. */
export interface HeatFlow {
  readonly windingWatt: number
  readonly housingWatt: number
}

/** Where the temperatures end under constant heat: T_h = T_a + R_2 (P_w + P_h), T_w = T_h + R_1 P_w. */
export function steadyTemperatures(
  motor: TwoMass,
  heat: HeatFlow,
  ambientCelsius: number,
): Temperatures {
  const housingCelsius =
    ambientCelsius + motor.housingToAmbientKPerW * (heat.windingWatt + heat.housingWatt)
  return {
    windingCelsius: housingCelsius + motor.windingToHousingKPerW * heat.windingWatt,
    housingCelsius,
  }
}

/** The two time constants of the pair, s: quick and slow, from the eigenvalues of its matrix. */
export function timeConstantsSec(motor: TwoMass): { quick: number; slow: number } {
  const { quick, slow } = ratesOf(motor)
  return { quick: 1 / quick, slow: 1 / slow }
}

/**
 * Temperatures after `spanSec` of constant heat, exact: the distance from the steady state decays by the
 * matrix exponential, written out by Sylvester's formula
 *   e^{At} = [e^{−q t}(A + s) − e^{−s t}(A + q)]/(s − q)
 * for the rates q > s > 0, which are never equal.
 * Source: Sylvester's formula for 2 × 2 matrices (from memory); checked in test/thermal/two-mass.test.ts.
 */
export function advanceTemperatures(
  motor: TwoMass,
  from: Temperatures,
  heat: HeatFlow,
  ambientCelsius: number,
  spanSec: number,
): Temperatures {
  const end = steadyTemperatures(motor, heat, ambientCelsius)
  const { a, b, c, quick, slow } = ratesOf(motor)
  const x = from.windingCelsius - end.windingCelsius
  const y = from.housingCelsius - end.housingCelsius
  const fast = Math.exp(-quick * spanSec)
  const late = Math.exp(-slow * spanSec)
  const own = (late - fast) / (quick - slow)
  // e^{At} = m I + own A, with m the rest of Sylvester's formula.
  const m = (quick * late - slow * fast) / (quick - slow)
  return {
    windingCelsius: end.windingCelsius + m * x + own * a * (y - x),
    housingCelsius: end.housingCelsius + m * y + own * (b * (x - y) - c * y),
  }
}

function ratesOf(motor: TwoMass) {
  const a = 1 / (motor.windingToHousingKPerW * motor.windingJPerK)
  const b = 1 / (motor.windingToHousingKPerW * motor.housingJPerK)
  const c = 1 / (motor.housingToAmbientKPerW * motor.housingJPerK)
  const sum = a + b + c
  const root = Math.sqrt((a - c) ** 2 + b * (b + 2 * a + 2 * c))
  const quick = (sum + root) / 2
  // The product of the rates is a c: no difference of nearly equal numbers.
  return { a, b, c, quick, slow: (a * c) / quick }
}
