import { failure, type Result, success } from '../base/result.ts'
import type { FitDocument } from '../contract/fit-document.ts'
import { motorEstimate } from '../contract/motor-estimate.ts'
import { speedAt } from '../identify/derived.ts'
import { PARAMETER_FACTS, type ParameterName } from '../records/parameter.ts'
import { assumeLeast, coldWinding, leastByConstantJPerKelvin } from './heat.ts'
import type { KnownMotor } from './known-motor.ts'

const NEEDED = [
  'resistance',
  'backEmfConstant',
  'torqueConstant',
  'coulombTorque',
  'inertia',
] as const satisfies readonly ParameterName[]

/** Where the inductance is not known: a current has settled within this time. Common practice, no source. */
const USUAL_ELECTRICAL_SEC = 2e-3
/** Break-away over sliding friction where no starting voltage was measured. Common practice, no source. */
const BREAK_AWAY_OVER_SLIDING = 1.5
const SLOWER_TURN = 0.6

/**
 * What an identified motor of the same type says for planning: the straight stall line, two steady turns at
 * and below `volt`, time constants, and a heat capacity by the bound of k²/R. Fails, naming what is missing.
 */
export function knownFromFit(
  fit: FitDocument,
  volt: number,
  nowSec: number,
): Result<KnownMotor, string> {
  const { names, values } = motorEstimate(fit)
  const byName = Object.fromEntries(names.map((name, i) => [name, values[i]!]))
  const missing = NEEDED.filter(name => !(byName[name]! > 0))
  if (missing.length > 0) {
    return failure(
      `'${fit.motor}' has no ${missing.map(name => PARAMETER_FACTS[name].label.toLowerCase()).join(', no ')}; run the guided sequence on it first`,
    )
  }
  const p = { ...NOUGHT, ...byName } as Record<ParameterName, number>
  const turn = (atVolt: number) => {
    const radPerSec = speedAt(p, atVolt, 0)
    const drag =
      p.coulombTorque + p.viscousCoefficient * radPerSec + p.windageCoefficient * radPerSec ** 2
    return { volt: atVolt, amp: drag / p.torqueConstant, radPerSec }
  }
  const turns = [turn(SLOWER_TURN * volt), turn(volt)]
  if (turns.some(each => !(each.radPerSec > 0))) {
    return failure(`${volt} V do not turn '${fit.motor}'; choose a higher voltage`)
  }
  const started = fit.derived.startingVoltage?.value ?? null
  const breakAwayVolt =
    started ??
    p.brushDrop + (BREAK_AWAY_OVER_SLIDING * p.coulombTorque * p.resistance) / p.torqueConstant
  const topAmp = (volt - p.brushDrop) / p.resistance
  return success({
    stallPoints: [],
    line: {
      resistanceOhm: p.resistance,
      brushVolt: p.brushDrop,
      topAmp,
      topVolt: volt,
      settled: true,
    },
    electricalSec: p.inductance > 0 ? p.inductance / p.resistance : USUAL_ELECTRICAL_SEC,
    mechanicalSec: (p.inertia * p.resistance) / (p.torqueConstant * p.backEmfConstant),
    breakAwayVolt,
    breakAwayAmp: Math.max(0, breakAwayVolt - p.brushDrop) / p.resistance,
    turns,
    heat: assumeLeast(
      coldWinding(nowSec),
      leastByConstantJPerKelvin(p.backEmfConstant, p.resistance),
    ),
  })
}

const NOUGHT = {
  inductance: 0,
  brushDrop: 0,
  staticTorque: 0,
  viscousCoefficient: 0,
  windageCoefficient: 0,
  offsetTorque: 0,
}
