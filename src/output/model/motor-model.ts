import { failure, type Result, success } from '../../base/result.ts'
import type { FitDocument } from '../../contract/fit-document.ts'
import type { MotorModel } from '../../contract/motor-model.ts'
import { workingValue } from '../../contract/working-value.ts'
import { COPPER_ZERO_CELSIUS } from '../../motor/winding-temperature.ts'
import { PARAMETER_FACTS, PARAMETERS, type ParameterName } from '../../records/parameter.ts'

/** Without these no run-up can be simulated. */
const NEEDED: readonly ParameterName[] = [
  'resistance',
  'inductance',
  'backEmfConstant',
  'torqueConstant',
  'inertia',
]

/** The motor's equations as the exported texts write them down; w is the speed in rad/s. */
export const MODEL_EQUATIONS: readonly string[] = [
  'L di/dt = v - R (r0 + x) i - k_e w - V_b tanh(i/I_b)',
  'J dw/dt = k_t i - drag(w) - T_offset - load',
  'drag(w) = T_c tanh(w/w_s) + (T_s - T_c) u exp((1 - u^2)/2) + B w + B_d |w| + C w |w|,  u = w/(3 w_s)',
  'r0 = (copper zero + winding temperature)/(copper zero + reference temperature)',
  'dx/dt = h i^2 (r0 + x) - c x: rise of the resistance while the winding heats itself',
]

/** The drop is complete, to a part in 10^8, at half the free-running current. */
const KNEE_SHARE = 0.05
/** Below some thousandths of the free-running speed friction is not what the fit says. */
const SLOW_SHARE = 1e-3

export interface ModelOrigin {
  readonly fit: number
  /** What the runs of the fit measured. */
  readonly tested: MotorModel['tested']
}

/** Fails with one line that names what the fit has not determined, and why. */
export function motorModelOf(fit: FitDocument, origin: ModelOrigin): Result<MotorModel, string> {
  const missing = NEEDED.find(name => fit.parameters[name].value === null)
  if (missing !== undefined) {
    const { reason } = fit.parameters[missing]
    return failure(
      `a model needs the ${PARAMETER_FACTS[missing].label.toLowerCase()}, which this fit has not determined${reason ? ` (${reason})` : ''}; 'rotorfit fit --fix ${missing}=VALUE' holds one that you know`,
    )
  }
  const value = (name: ParameterName) => workingValue(fit, name)?.value ?? 0
  const extra = (name: string) => {
    const found = fit.model?.[name]
    return typeof found === 'number' ? found : 0
  }
  const brushKneeAmp = extra('brushKneeAmp')
  const freeAmp = Math.max(value('coulombTorque') / value('torqueConstant'), 1e-6)
  const volt = exampleVolt(origin.tested)
  return success({
    schema: 'motor-model/1',
    motor: fit.motor,
    fit: origin.fit,
    referenceTemperatureCelsius: fit.referenceTemperatureCelsius,
    copperZeroCelsius: COPPER_ZERO_CELSIUS,
    equations: [...MODEL_EQUATIONS],
    parameters: Object.fromEntries(
      PARAMETERS.map(name => {
        const { unit, status, lower95, upper95 } = fit.parameters[name]
        const { symbol } = PARAMETER_FACTS[name]
        const standardUncertainty =
          workingValue(fit, name)?.standardUncertainty ?? fit.parameters[name].standardUncertainty
        const result = { standardUncertainty, lower95, upper95, status }
        return [name, { symbol, unit, value: value(name), ...result }]
      }),
    ) as MotorModel['parameters'],
    correlation: fit.correlation,
    brushKneeAmp,
    viscousDifferenceNmsPerRad: extra('viscousDifferenceNmsPerRad'),
    heatingPerA2s: extra('heatingPerA2s'),
    coolingPerSec: extra('coolingPerSec'),
    smoothing: {
      brushKneeAmp: brushKneeAmp > 0 ? brushKneeAmp : KNEE_SHARE * freeAmp,
      slowSpeedRadPerSec: (SLOW_SHARE * volt) / value('backEmfConstant'),
    },
    tested: origin.tested,
    warnings: fit.warnings,
  })
}

const USUAL_VOLT = 12

/** Voltage of the example in the exported texts: the highest that was tried, in either direction. */
export function exampleVolt(tested: MotorModel['tested']): number {
  const span = tested.find(one => one.quantity === 'voltage')
  const most = span ? Math.max(Math.abs(span.lowest), Math.abs(span.highest)) : 0
  return most > 0 ? Number(most.toPrecision(2)) : USUAL_VOLT
}

/** Six mechanical time constants J R/(k_t k_e): a run-up is over by then. */
export function runUpSec({ parameters }: MotorModel): number {
  const { inertia, resistance, torqueConstant, backEmfConstant } = parameters
  const timeConstant =
    (inertia.value * resistance.value) / (torqueConstant.value * backEmfConstant.value)
  return Number((6 * timeConstant).toPrecision(1))
}
