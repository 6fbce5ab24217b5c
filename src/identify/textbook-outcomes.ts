import { DRAG_TERMS } from '../analysis/friction.ts'
import type { BudgetLine } from '../contract/fit-document.ts'
import { PARAMETERS, type ParameterName } from '../records/parameter.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'
import { budgetLines, type ParameterOutcome, WANTED_TEST } from './document.ts'
import type { FixedEstimates } from './electrical-side.ts'
import type { ElectricalSide, ParameterSet } from './parameter-set.ts'
import type { StallCombination } from './stall-combination.ts'
import { resistanceAt } from './test-temperature.ts'
import type { TorqueResult } from './torque-side.ts'
import type { SystematicPart } from './type-b.ts'

export interface TextbookParts {
  readonly set: ParameterSet
  readonly covariance: readonly (readonly number[])[]
  readonly side: ElectricalSide
  readonly torque: TorqueResult
  readonly fixed: FixedEstimates
  readonly dropLeftOut: boolean
  readonly sampledTooSlowly: boolean
  readonly tested: number | null
  readonly reference: number
}

const NOT_OUT = 'it does not stand out of its uncertainty'

/** Status and value of every parameter. */
export function outcomesOf(parts: TextbookParts): Partial<Record<ParameterName, ParameterOutcome>> {
  const outcomes: Partial<Record<ParameterName, ParameterOutcome>> = {}
  for (const name of PARAMETERS) {
    const outcome = outcomeOf(name, parts)
    if (outcome) outcomes[name] = outcome
  }
  return outcomes
}

function outcomeOf(name: ParameterName, parts: TextbookParts): ParameterOutcome | null {
  const { set, fixed, torque } = parts
  const given = fixed[name]
  if (given) return { status: 'fixed', estimate: given, ...extras(name, given.value, parts) }
  const place = set.names.indexOf(name)
  if (place >= 0) {
    const estimate = combinedEstimate(name, place, parts)
    const status = name === 'torqueConstant' && torque.tied ? 'tied' : 'determined'
    return { status, estimate, ...extras(name, estimate.value, parts) }
  }
  if (name === 'brushDrop' && parts.dropLeftOut) {
    return { status: 'not-in-model', reason: NOT_OUT }
  }
  if (name === 'inductance' && parts.sampledTooSlowly) {
    const reason = `the samples are further apart than half of L/R; ${WANTED_TEST.inductance}`
    return { status: 'not-determined', reason }
  }
  const term = DRAG_PARAMETERS.indexOf(name)
  const mechanical = torque.mechanical
  if (term > 0 && mechanical?.hasDrag && mechanical.tried.includes(DRAG_TERMS[term]!)) {
    return { status: 'not-in-model', reason: NOT_OUT }
  }
  if (mechanical?.hasDrag && !torque.torqueConstant && (term >= 0 || name === 'inertia')) {
    const reason =
      'known only over the torque constant; a coast-down with the voltage across the motor, or a torque sensor, determines that'
    return { status: 'not-determined', reason }
  }
  return null
}

const DRAG_PARAMETERS: readonly ParameterName[] = [
  'coulombTorque',
  'viscousCoefficient',
  'windageCoefficient',
  'offsetTorque',
]

/** Statistical and systematic parts together; the degrees of freedom after Welch and Satterthwaite. */
function combinedEstimate(
  name: ParameterName,
  place: number,
  { set, covariance }: TextbookParts,
): Estimate {
  const total = covariance[place]![place]!
  const statistical = set.statistical[place]![place]!
  const freedom = set.degreesOfFreedom[name]!
  return {
    value: set.values[name]!,
    standardUncertainty: Math.sqrt(total),
    degreesOfFreedom:
      statistical > 0 ? freedom * (total / statistical) ** 2 : Number.POSITIVE_INFINITY,
  }
}

function extras(name: ParameterName, value: number, parts: TextbookParts) {
  const { tested, reference, torque } = parts
  if (name === 'resistance') {
    const atTestTemperature = tested === null ? value : resistanceAt(value, reference, tested)
    return { atTestTemperature }
  }
  if (name === 'backEmfConstant' || name === 'inductance') return { atTestTemperature: value }
  const ofShaft = ['coulombTorque', 'viscousCoefficient', 'inertia'].includes(name)
  if (ofShaft && !torque.fixture && !parts.fixed[name]) {
    return { note: 'with whatever fixture was on the shaft' }
  }
  return {}
}

/** What makes up the uncertainty of each parameter. */
export function budgetsOf(
  set: ParameterSet,
  parts: readonly SystematicPart[],
  stall: StallCombination | null,
): Partial<Record<ParameterName, BudgetLine[]>> {
  const budgets: Partial<Record<ParameterName, BudgetLine[]>> = {}
  for (const [place, name] of set.names.entries()) {
    const scatter = set.statistical[place]![place]!
    const between = name === 'resistance' && stall ? stall.betweenRunsOhm ** 2 / stall.runs : 0
    const shared = Math.min(between, scatter)
    budgets[name] = budgetLines([
      {
        source: 'shaft angles and repeats of the locked rotor',
        kind: 'A',
        standardUncertainty: Math.sqrt(shared),
      },
      {
        source: 'scatter of the readings about the fits',
        kind: 'A',
        standardUncertainty: Math.sqrt(scatter - shared),
      },
      ...parts.map(({ source, effects }) => ({
        source,
        kind: 'B' as const,
        standardUncertainty: Math.abs(effects[name] ?? 0),
      })),
    ])
  }
  return budgets
}
