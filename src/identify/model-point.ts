import type { FitDocument } from '../contract/fit-document.ts'
import { workingValue } from '../contract/working-value.ts'
import type { ModelPoint } from '../motor/parameters.ts'
import type { ParameterName } from '../records/parameter.ts'

/** Shorter than any sampling would show: stands in for an inductance that is not known. */
const SHORT_TIME_SEC = 1e-5

/** The motor of an identification as the model takes it; what it has no value of is nil, or does no harm. */
export function modelPoint(fit: FitDocument): ModelPoint {
  const of = (name: ParameterName, otherwise = 0) => workingValue(fit, name)?.value ?? otherwise
  const resistanceOhm = of('resistance', 1)
  const coulombTorqueNm = of('coulombTorque')
  return {
    resistanceOhm,
    inductanceHenry: of('inductance', resistanceOhm * SHORT_TIME_SEC),
    backEmfConstantVsPerRad: of('backEmfConstant', of('torqueConstant')),
    torqueConstantNmPerA: of('torqueConstant', of('backEmfConstant')),
    brushDropVolt: of('brushDrop'),
    brushKneeAmp: fit.model?.brushKneeAmp ?? 0,
    coulombTorqueNm,
    staticExcessNm: Math.max(0, of('staticTorque', coulombTorqueNm) - coulombTorqueNm),
    viscousNmsPerRad: of('viscousCoefficient'),
    viscousDifferenceNmsPerRad: fit.model?.viscousDifferenceNmsPerRad ?? 0,
    windageNms2PerRad2: of('windageCoefficient'),
    offsetTorqueNm: of('offsetTorque'),
    inertiaKgM2: of('inertia', 1),
    heatingPerA2s: fit.model?.heatingPerA2s ?? 0,
    coolingPerSec: fit.model?.coolingPerSec ?? 0,
    voltageZeroVolt: 0,
    currentZeroAmp: 0,
    speedZeroRadPerSec: 0,
  }
}
