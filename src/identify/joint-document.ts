import type { FitDocument, FittedModel, FitWarning } from '../contract/fit-document.ts'
import { PARAMETERS, type ParameterName } from '../records/parameter.ts'
import type { TestRun } from '../records/test-run.ts'
import { usualPeriodSec } from '../signals/usual-period.ts'
import { coverageFactor } from '../statistics/distributions.ts'
import type { ChosenTerms } from './choose-terms.ts'
import { deriveQuantities, withoutUntold } from './derived.ts'
import { buildFitDocument, correlationOf, type ParameterOutcome } from './document.ts'
import { untoldDrop } from './drop-evidence.ts'
import type { FittedTerms } from './fit-members.ts'
import type { FitPlan } from './fit-plan.ts'
import type { FitSettings } from './fit-settings.ts'
import { goodnessOf } from './goodness.ts'
import type { JointRun } from './joint-members.ts'
import {
  estimatesOf,
  type JointEstimates,
  jointBudgets,
  jointOutcomes,
  UNTOLD_INDUCTANCE,
  valuesOf,
  withoutName,
} from './joint-outcomes.ts'
import { frictionByDirection, resistancesApart, runsBeside, strangers } from './joint-warnings.ts'
import { TERMINATIONS } from './minimise.ts'
import {
  anglesNotTried,
  type DoubtfulTerm,
  dropBetweenAngles,
  formOfLaws,
  untoldInductance,
} from './model-doubts.ts'
import { fixtureParts } from './parameter-set.ts'
import { calibrationParts, type SystematicPart } from './type-b.ts'

interface JointDocumentParts {
  readonly motor: string
  readonly runs: readonly TestRun[]
  readonly settings: FitSettings
  readonly textbook: FitDocument
  readonly joint: readonly JointRun[]
  readonly plan: FitPlan
  /** With every term that the runs may tell. */
  readonly first: FittedTerms
  readonly chosen: ChosenTerms
  /** What else is open beside the budget's usual parts. */
  readonly doubts: readonly SystematicPart[]
}

/** The result of a joint fit, with what the tests say on their own beside it. */
export function documentOf(parts: JointDocumentParts): FitDocument {
  const { motor, runs, settings, textbook, joint, plan, chosen } = parts
  const { fit, leftOut } = chosen
  const { fixed } = settings
  const referenceCelsius = settings.referenceTemperatureCelsius
  const fixture = joint.find(({ run }) => run.conditions.fixture)?.run.conditions.fixture ?? null
  const tooSlow = fit.terms.coordinates.includes('lnInductance') && sampledTooSlowly(fit, joint)
  const laws = [...formOfLaws(chosen), ...(tooSlow ? untoldInductance(fit, joint) : [])]
  const values = valuesOf(fit)
  const systematic = [
    ...calibrationParts(runs, { ...fixed, ...values }, plan.telling.torque),
    ...fixtureParts(fixture),
    ...anglesNotTried(fit, joint),
    ...dropBetweenAngles(fit, joint),
    ...untoldDrop(plan.telling.drop, values),
    ...parts.doubts,
  ]
  const all = estimatesOf(fit, laws, systematic)
  const fast = tooSlow ? withoutName(all, 'inductance') : all
  const adrift = !plan.telling.drop.told && isConstantOpen(fast)
  const estimates = adrift ? fast.names.reduce(withoutName, fast) : fast
  const told = jointOutcomes({
    fit,
    estimates,
    leftOut,
    dropOpen: !plan.telling.drop.told || isDropOpen(laws, all.values),
    telling: plan.telling,
    fixed,
    testCelsius: textbook.testTemperatureCelsius,
    referenceCelsius,
    withFixture: fixture === null,
  })
  const outcomes = {
    ...told,
    ...(tooSlow ? { inductance: UNTOLD_INDUCTANCE } : {}),
    ...(told.staticTorque === undefined ? staticTorque(plan.breakAway, estimates) : {}),
  }
  const parameters = fromTests(outcomes, textbook, settings)
  const { point, termination, passes } = fit.minimum
  const document = buildFitDocument({
    motor,
    runs: runs.map(run => run.id),
    referenceTemperatureCelsius: referenceCelsius,
    testTemperatureCelsius: textbook.testTemperatureCelsius,
    parameters,
    correlation: { names: estimates.names, matrix: correlationOf(estimates.covariance) },
    budget: {
      ...budgetsOfTests(outcomes, textbook, parameters),
      ...jointBudgets(fit, estimates, laws, systematic),
    },
    derived: {
      ...textbook.derived,
      ...deriveQuantities({
        values: { ...fixed, ...estimates.values },
        names: estimates.names,
        covariance: estimates.covariance,
        voltageVolt: voltageOf(textbook),
        degreesOfFreedom: Math.max(1, Math.min(...Object.values(estimates.freedom))),
      }),
    },
    separate: textbook.separate,
    goodness: goodnessOf(fit),
    termination: `${TERMINATIONS[termination].text} (${passes} passes in the last round)`,
    model: {
      brushKneeAmp: point.motor.brushKneeAmp,
      heatingPerA2s: point.motor.heatingPerA2s,
      coolingPerSec: point.motor.coolingPerSec,
      viscousDifferenceNmsPerRad: point.motor.viscousDifferenceNmsPerRad,
    },
    warnings: [
      ...textbook.warnings,
      ...runsBeside(runs, joint, textbook.warnings),
      ...strangers(fit, joint),
      ...resistancesApart(fit, joint),
      ...frictionByDirection(parts.first, chosen),
      ...(TERMINATIONS[termination].converged ? [] : [unfinished(passes)]),
    ],
  })
  const isTold = (name: ParameterName) => document.parameters[name].value !== null
  return {
    ...document,
    derived: withoutUntold(document.derived, isTold),
    model: { ...document.model!, beside: besideResults(estimates, isTold) },
  }
}

/** T_s = k_t i at the current at which a resting shaft broke away. */
function staticTorque(
  breakAway: FitPlan['breakAway'],
  { names, values, covariance }: JointEstimates,
): { staticTorque?: ParameterOutcome } {
  const place = names.indexOf('torqueConstant')
  if (breakAway === null || place < 0) return {}
  const constant = values.torqueConstant!
  const variance = covariance[place]![place]!
  const estimate = {
    value: constant * breakAway.value,
    standardUncertainty: Math.hypot(
      constant * breakAway.standardUncertainty,
      breakAway.value * Math.sqrt(variance),
    ),
    degreesOfFreedom: Number.POSITIVE_INFINITY,
  }
  return { staticTorque: { status: 'determined', estimate } }
}

/** The fit's values of what it did not determine. */
function besideResults(
  { names, values, covariance }: JointEstimates,
  isTold: (name: ParameterName) => boolean,
): NonNullable<FittedModel['beside']> {
  return Object.fromEntries(
    names.flatMap((name, n) =>
      isTold(name)
        ? []
        : [[name, { value: values[name]!, standardUncertainty: Math.sqrt(covariance[n]![n]!) }]],
    ),
  )
}

const unfinished = (passes: number): FitWarning => ({
  code: 'not-converged',
  text: `the search was stopped after ${passes} passes in its last round without coming to rest: the values may still move; look at the warnings of the runs and at the fitted curves`,
})

/**
 * From one voltage alone all parameters are told together or none: with the constant open, what the others
 * seem to be is where the search happened to stop.
 */
function isConstantOpen({ names, values, covariance, freedom }: JointEstimates): boolean {
  const place = names.indexOf('backEmfConstant')
  if (place < 0) return true
  const half = coverageFactor(freedom.backEmfConstant!) * Math.sqrt(covariance[place]![place]!)
  return !(half < values.backEmfConstant!)
}

/** Share of the resistance or the back-EMF constant that a drop left out may take before it is not determined. */
const OPEN_DROP = 0.02

/** Nothing speaks for a brush drop, yet the runs would bear one that moves the winding's values. */
function isDropOpen(
  laws: readonly DoubtfulTerm[],
  values: Readonly<Partial<Record<ParameterName, number>>>,
): boolean {
  const drop = laws.find(({ coordinate }) => coordinate === 'brushDrop')
  return (['resistance', 'backEmfConstant'] as const).some(
    name => Math.abs(drop?.effects[name] ?? 0) > OPEN_DROP * (values[name] ?? Number.NaN),
  )
}

/** Between two samples the current settles: an inductance would rest on the bridge's timing alone. */
function sampledTooSlowly(fit: FittedTerms, joint: readonly JointRun[]): boolean {
  const { resistanceOhm, inductanceHenry } = fit.minimum.point.motor
  const shortest = Math.min(...joint.map(({ signals }) => usualPeriodSec(signals.timeSec!)))
  return shortest > inductanceHenry / resistanceOhm
}

/**
 * What only the tests on their own tell: the break-away torque, seen where the shaft starts slowly, and
 * whatever stands in hand-read tables alone.
 */
function fromTests(
  outcomes: ReturnType<typeof jointOutcomes>,
  textbook: FitDocument,
  { brushDropLaw }: FitSettings,
): typeof outcomes {
  const found = { ...outcomes }
  for (const name of PARAMETERS) {
    const { status, value, standardUncertainty, lower95, upper95 } = textbook.parameters[name]
    if (outcomes[name] !== undefined || status !== 'determined') continue
    if (name === 'brushDrop' && brushDropLaw === 'none') {
      found[name] = { status: 'not-in-model', reason: 'left out, as asked' }
      continue
    }
    const estimate = {
      value: value!,
      standardUncertainty: standardUncertainty!,
      degreesOfFreedom: Number.POSITIVE_INFINITY,
    }
    found[name] = { status, estimate, interval95: [lower95!, upper95!] }
  }
  return found
}

function budgetsOfTests(
  outcomes: ReturnType<typeof jointOutcomes>,
  { budget }: FitDocument,
  shown: ReturnType<typeof fromTests>,
): FitDocument['budget'] {
  const isFromTests = (name: ParameterName) =>
    outcomes[name] === undefined && shown[name]?.status === 'determined'
  return Object.fromEntries(
    Object.entries(budget).filter(([name]) => isFromTests(name as ParameterName)),
  )
}

/** Voltage for which the tests' own results state stall and no load. */
function voltageOf(textbook: FitDocument): number | null {
  const stated = Object.values(textbook.derived).find(quantity => 'atVolt' in quantity)
  return (stated?.atVolt as number | undefined) ?? null
}
