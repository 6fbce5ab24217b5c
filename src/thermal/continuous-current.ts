import { copperOhm, type HeatModel } from './heat-course.ts'
import { steadyTemperatures, type Temperatures } from './two-mass.ts'

/** What may be and what else heats the housing. */
export interface ContinuousDuty {
  readonly startCelsius: number
  /** Mean of the winding. */
  readonly limitCelsius: number
  readonly ambientCelsius: number
  /** Friction turned into heat, W; 0 at standstill. */
  readonly frictionWatt: number
}

/**
 * Current that holds the winding at its limit for ever, with the drop of the brushes at its full value:
 *   (R_1 + R_2) R_cu(T) I² + R_2 (R_c I² + V_b I + P_f) = T − T_a
 * the positive root for I; 0 where friction alone brings the winding to its limit.
 */
export function continuousCurrentAmp(model: HeatModel, duty: ContinuousDuty): number {
  const { windingToHousingKPerW: r1, housingToAmbientKPerW: r2 } = model
  const copper = copperOhm(model, duty.startCelsius, duty.limitCelsius)
  const square = (r1 + r2) * copper + r2 * model.steadyShare * model.startOhm
  const linear = r2 * model.brushDropVolt
  const rest = duty.limitCelsius - duty.ambientCelsius - r2 * duty.frictionWatt
  if (rest <= 0) return 0
  return (-linear + Math.sqrt(linear * linear + 4 * square * rest)) / (2 * square)
}

/** Temperatures that a constant current ends in, the winding at its limit giving the resistance. */
export function steadyAt(model: HeatModel, duty: ContinuousDuty, amp: number): Temperatures {
  const copper = copperOhm(model, duty.startCelsius, duty.limitCelsius) * amp * amp
  const contact = model.brushDropVolt * amp + model.steadyShare * model.startOhm * amp * amp
  return steadyTemperatures(
    model,
    { windingWatt: copper, housingWatt: contact + duty.frictionWatt },
    duty.ambientCelsius,
  )
}
