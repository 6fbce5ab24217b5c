import { failure, type Result, success } from '../base/result.ts'
import type { FitDocument, FitWarning } from '../contract/fit-document.ts'
import { type Coordinate, coordinateSlope, type ModelPoint } from '../motor/parameters.ts'
import { triangleAt } from '../numerics/symmetric.ts'
import { PARAMETERS, type ParameterName } from '../records/parameter.ts'
import type { TestRun } from '../records/test-run.ts'
import { chooseTerms, type ChosenTerms, conditioned, judge } from './choose-terms.ts'
import { deriveQuantities } from './derived.ts'
import { buildFitDocument, correlationOf } from './document.ts'
import { COORDINATE_OF, possibleCoordinates, tellingOf, withFixed } from './fit-coordinates.ts'
import { type FitBasis, type FittedTerms, fitFromScratch, startPoint } from './fit-members.ts'
import { CANCELLED, type FitFault, type FitSettings, type OnFitProgress } from './fit-settings.ts'
import { goodnessOf } from './goodness.ts'
import { type JointRun, jointRuns, noiseUnitsOf, preparedOf } from './joint-members.ts'
import type { Prior } from './joint-model.ts'
import {
  coordinateOf,
  estimatesOf,
  jointBudgets,
  jointOutcomes,
  movedNames,
  valuesOf,
  withoutName,
} from './joint-outcomes.ts'
import { TERMINATIONS } from './minimise.ts'
import { usualPeriodSec } from './prepare/prepare-run.ts'
import { fixtureParts } from './parameter-set.ts'
import { zeroOffsets } from './run-readings.ts'
import { type StartValues, startValues } from './start-values.ts'
import { calibrationParts, type SystematicPart } from './type-b.ts'

/**
 * The parameters of a motor from all its runs at once, by maximum likelihood under a noise model for
 * every channel (see `RunObserver`). Start values come from the runs, terms from the evidence, and
 * uncertainties from the residuals as they are.
 *
 * What each test says on its own (`textbook`) stands beside it. Hand-read tables and whatever the model
 * cannot follow are left to that: it is returned as it is where no sampled run is left.
 */
export function jointFit(
  textbook: FitDocument,
  motor: string,
  runs: readonly TestRun[],
  settings: FitSettings,
  progress: OnFitProgress,
): Result<FitDocument, FitFault> {
  let going = true
  const tell = (fraction: number, text: string) => {
    going = going && progress({ fraction, text })
  }
  const referenceCelsius = settings.referenceTemperatureCelsius
  tell(0.1, 'preparing the runs')
  const joint = jointRuns(runs, zeroOffsets(runs), referenceCelsius)
  const plan = planOf(joint, textbook, settings)
  if (plan === null) return success(textbook)
  tell(0.2, 'all runs together')
  const basis: FitBasis = { ...plan.basis, goOn: () => going }
  const { members } = basis
  const first = fitFromScratch(basis, plan.terms, startPoint(plan.start, members))
  if (!going) return failure(CANCELLED)
  tell(0.7, 'weighing the terms')
  const kept = new Set(settings.freed.map(name => COORDINATE_OF[name]))
  const chosen = chooseTerms(
    basis,
    first,
    kept,
    largestAmp(joint),
    text => tell(0.8, text),
    settings.frictionLaw === 'by-direction' ? [] : ['viscousDifference'],
  )
  if (!going) return failure(CANCELLED)
  if (chosen.fit.covariance === null) return success(withWarning(textbook, FELL_BACK))
  tell(0.95, 'uncertainties')
  return success(documentOf({ motor, runs, settings, textbook, joint, plan, first, chosen }))
}

const FELL_BACK: FitWarning = {
  code: 'joint-fit-failed',
  text: 'the runs together do not settle on one motor; each test is shown on its own instead',
}

function withWarning(document: FitDocument, warning: FitWarning): FitDocument {
  return { ...document, warnings: [...document.warnings, warning] }
}

/** Whitened residuals beyond this many standard deviations count by their size instead of its square. */
const ROBUST_CLIP = 4

interface FitPlan {
  readonly basis: Omit<FitBasis, 'goOn'>
  readonly terms: { readonly coordinates: readonly Coordinate[]; readonly tied: boolean }
  readonly start: ModelPoint
  readonly telling: ReturnType<typeof tellingOf>
}

/** What is to be fitted from where; null where no sampled run tells a parameter. */
function planOf(
  joint: readonly JointRun[],
  textbook: FitDocument,
  settings: FitSettings,
): FitPlan | null {
  if (joint.length === 0) return null
  const { fixed, freed, brushDropLaw } = settings
  const telling = tellingOf(preparedOf(joint))
  const choice = possibleCoordinates(telling, fixed, freed)
  const members = joint.map(({ member }) => member)
  const values = startValues(
    members.map(({ run, noise }) => ({ run, noise })),
    knownOf(fixed),
  )
  const guess = startOf(values, textbook, joint, choice.tied)
  const law = brushDropLaw === 'none' ? { brushDropVolt: 0, brushKneeAmp: 0 } : {}
  const bend = brushDropLaw === 'sgn' ? { brushKneeAmp: 0 } : {}
  const start = withFixed({ ...guess, ...law, ...bend }, fixed, choice.tied)
  const coordinates = choice.coordinates.filter(
    coordinate =>
      !(brushDropLaw === 'none' && (coordinate === 'brushDrop' || coordinate === 'lnKnee')) &&
      !(brushDropLaw === 'sgn' && coordinate === 'lnKnee'),
  )
  if (coordinates.length === 0) return null
  return {
    basis: {
      members,
      noiseUnits: noiseUnitsOf(joint, start),
      setting: {
        referenceCelsius: settings.referenceTemperatureCelsius,
        magnetPerKelvin: settings.magnetPerKelvin ?? 0,
      },
      priors: priorsOf(joint, start),
      clip: settings.robust === false ? Number.POSITIVE_INFINITY : ROBUST_CLIP,
    },
    terms: { coordinates, tied: choice.tied },
    start,
    telling,
  }
}

function knownOf(fixed: FitSettings['fixed']) {
  const known: { -readonly [K in keyof ModelPoint]?: number } = {}
  if (fixed.resistance !== undefined) known.resistanceOhm = fixed.resistance
  if (fixed.inductance !== undefined) known.inductanceHenry = fixed.inductance
  if (fixed.backEmfConstant !== undefined) known.backEmfConstantVsPerRad = fixed.backEmfConstant
  if (fixed.torqueConstant !== undefined) known.torqueConstantNmPerA = fixed.torqueConstant
  if (fixed.brushDrop !== undefined) known.brushDropVolt = fixed.brushDrop
  return known
}

/** Share of the largest current at which the brush drop is taken to bend to begin with. */
const FIRST_KNEE = 0.02
/** Where the inductance is not told, the current is taken to settle within this share of a sample period. */
const SETTLES_WITHIN = 0.3

function startOf(
  values: StartValues,
  textbook: FitDocument,
  joint: readonly JointRun[],
  tied: boolean,
): ModelPoint {
  const resistanceOhm = values.resistanceOhm ?? 1
  const time = joint[0]!.signals.timeSec!
  const periodSec = time[1]! - time[0]!
  const k = values.backEmfConstantVsPerRad ?? 1
  return {
    resistanceOhm,
    inductanceHenry:
      textbook.parameters.inductance.value ??
      values.inductanceHenry ??
      resistanceOhm * periodSec * SETTLES_WITHIN,
    backEmfConstantVsPerRad: k,
    torqueConstantNmPerA: tied ? k : (values.backEmfConstantVsPerRad ?? 1),
    brushDropVolt: values.brushDropVolt,
    brushKneeAmp: FIRST_KNEE * largestAmp(joint),
    coulombTorqueNm: values.coulombTorqueNm,
    staticExcessNm: 0,
    viscousNmsPerRad: values.viscousNmsPerRad,
    viscousDifferenceNmsPerRad: 0,
    windageNms2PerRad2: 0,
    offsetTorqueNm: 0,
    inertiaKgM2: values.inertiaKgM2 ?? 1,
    heatingPerA2s: 0,
    coolingPerSec: 0,
    voltageZeroVolt: 0,
    currentZeroAmp: 0,
    speedZeroRadPerSec: 0,
  }
}

function largestAmp(joint: readonly JointRun[]): number {
  return Math.max(0, ...joint.map(({ signals }) => signals.current?.reach ?? 0))
}

/** Standard deviation of the logarithm of the knee current about its start. */
const KNEE_SPREAD = 2
/** No run is believed to raise its winding's resistance by more than about this share. */
const MOST_HEATING = 0.5

/** Weak beliefs that keep what the data hardly tell from running away. */
function priorsOf(joint: readonly JointRun[], start: ModelPoint): Prior[] {
  const heat = Math.max(
    ...joint.map(({ member }) => member.run.heat.reduce((sum, step) => sum + step, 0)),
  )
  const priors: Prior[] = []
  if (start.brushKneeAmp > 0) {
    const mean = Math.log(start.brushKneeAmp)
    priors.push({ coordinate: 'lnKnee', mean, variance: KNEE_SPREAD ** 2 })
  }
  if (heat > 0) {
    priors.push({ coordinate: 'heating', mean: 0, variance: (MOST_HEATING / heat) ** 2 })
  }
  return priors
}

interface DocumentParts {
  readonly motor: string
  readonly runs: readonly TestRun[]
  readonly settings: FitSettings
  readonly textbook: FitDocument
  readonly joint: readonly JointRun[]
  readonly plan: FitPlan
  /** With every term that the runs may tell. */
  readonly first: FittedTerms
  readonly chosen: ChosenTerms
}

function documentOf(parts: DocumentParts): FitDocument {
  const { motor, runs, settings, textbook, joint, plan, chosen } = parts
  const { fit, leftOut } = chosen
  const { fixed } = settings
  const referenceCelsius = settings.referenceTemperatureCelsius
  const fixture = joint.find(({ run }) => run.conditions.fixture)?.run.conditions.fixture ?? null
  const laws = formOfLaws(parts.first, chosen)
  const values = valuesOf(fit)
  const systematic = [
    ...calibrationParts(runs, { ...fixed, ...values }, plan.telling.torque),
    ...fixtureParts(fixture),
    ...anglesNotTried(fit, joint),
  ]
  const all = estimatesOf(fit, laws, systematic)
  const estimates = sampledTooSlowly(fit, joint) ? withoutName(all, 'inductance') : all
  const outcomes = jointOutcomes({
    fit,
    estimates,
    leftOut,
    telling: plan.telling,
    fixed,
    testCelsius: textbook.testTemperatureCelsius,
    referenceCelsius,
    withFixture: fixture === null,
  })
  const { point, termination, passes } = fit.minimum
  return buildFitDocument({
    motor,
    runs: runs.map(run => run.id),
    referenceTemperatureCelsius: referenceCelsius,
    testTemperatureCelsius: textbook.testTemperatureCelsius,
    parameters: fromTests(outcomes, textbook, settings),
    correlation: { names: estimates.names, matrix: correlationOf(estimates.covariance) },
    budget: {
      ...budgetsOfTests(outcomes, textbook),
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
      ...strangers(fit, joint),
      ...frictionByDirection(parts.first, chosen),
    ],
  })
}

/** A term found to be more than so many standard deviations may well be there. */
const DOUBTFUL = 1

/**
 * Terms left out for want of evidence may still be there. Where they were not far from earning their
 * place, or the residuals show that the model is not the whole truth, what each would have done to the
 * others still counts: a coordinate moves by
 * C₍ₗⱼ₎/Cⱼⱼ of what term j was found to be, or of what noise alone would let it be, if that is more.
 * Source: K. P. Burnham, D. R. Anderson, Model Selection and Multimodel Inference (2002), model-averaged
 * variance (from memory).
 */
function formOfLaws(first: FittedTerms, { fit, leftOut }: ChosenTerms): SystematicPart[] {
  if (!fit.covariance || first.covariance === null) return []
  const { motor } = fit.minimum.point
  const { tied } = fit.terms
  const { white } = first.covariance
  let judged = judge(first)
  const parts: SystematicPart[] = []
  for (const { coordinate, because } of leftOut) {
    const j = judged.coordinates.indexOf(coordinate)
    if (because === 'not-told' || coordinate.startsWith('ln') || j < 0) continue
    const own = first.terms.coordinates.indexOf(coordinate)
    const noise = Math.sqrt(white[own]![own]!)
    const size = Math.max(Math.abs(judged.values[j]!), noise)
    const effects = movedNames(fit).flatMap(name => {
      const owner = coordinateOf(name, tied)
      const l = judged.coordinates.indexOf(owner)
      if (l < 0) return []
      const slope =
        name === 'torqueConstant' ? motor.torqueConstantNmPerA : coordinateSlope(motor, owner)
      return [[name, (judged.matrix[l]![j]! / judged.matrix[j]![j]!) * size * slope] as const]
    })
    if (because === 'no-evidence' && (fit.covariance.misfit || size > DOUBTFUL * noise)) {
      parts.push({
        source: `${TERM_WORDS[coordinate] ?? coordinate}, left out for want of evidence`,
        effects: Object.fromEntries(effects),
      })
    }
    judged = conditioned(judged, coordinate)
  }
  return parts
}

/**
 * By how much the resistance of one shaft angle may differ from the mean over all, relative: coils under a
 * brush are short-circuited, contacts are not alike. Common practice, no source.
 */
const ONE_ANGLE = 0.015

/**
 * The resistance is a mean over the shaft's angle: what its definition leaves open with few angles tried,
 * however well these agree. Where the residuals are noise the motor has no angles.
 */
function anglesNotTried(fit: FittedTerms, joint: readonly JointRun[]): SystematicPart[] {
  if (!fit.covariance?.misfit || !fit.terms.coordinates.includes('lnResistance')) return []
  const angles = new Set(joint.map(({ member }) => member.group)).size
  const ohm = fit.minimum.point.motor.resistanceOhm
  const effects = { resistance: (ONE_ANGLE * ohm) / Math.sqrt(angles) }
  return [{ source: `shaft angles beyond the ${angles} seen`, effects }]
}

const TERM_WORDS: Partial<Record<Coordinate, string>> = {
  windage: 'windage',
  offset: 'offset torque',
  viscousDifference: 'friction that differs by direction',
  heating: 'heating of the winding within a run',
  brushDrop: 'brush drop',
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
): FitDocument['budget'] {
  return Object.fromEntries(
    Object.entries(budget).filter(([name]) => outcomes[name as ParameterName] === undefined),
  )
}

/** Voltage for which the tests' own results state stall and no load. */
function voltageOf(textbook: FitDocument): number | null {
  const stated = Object.values(textbook.derived).find(quantity => 'atVolt' in quantity)
  return (stated?.atVolt as number | undefined) ?? null
}

/** Says where friction that differs by direction was not asked for and yet stands out. */
function frictionByDirection(first: FittedTerms, { fit, leftOut }: ChosenTerms): FitWarning[] {
  const unasked = leftOut.some(({ because }) => because === 'not-asked')
  if (!unasked || first.covariance === null) return []
  const judged = judge(first)
  const j = judged.coordinates.indexOf('viscousDifference')
  const difference = judged.values[j]!
  const spread = Math.sqrt(judged.matrix[j]![j]!)
  if ((difference / spread) ** 2 < Math.log(fit.minimum.sums.readings)) return []
  const half = (value: number) => value.toPrecision(2)
  const text =
    `viscous friction differs by direction: ${half(difference)} N·m·s/rad more forward than the mean of both ` +
    `(standard uncertainty ${half(spread)}) and as much less backward; one law for both is reported, ask for friction by direction to have it in the fit`
  return [{ code: 'friction-by-direction', text }]
}

/** Relative difference between a run's own constant and the motor's that deserves a word. */
const STRANGE = 0.03
const STRANGE_SIGMAS = 8

/** Runs whose back-EMF constant, all else equal, is far from the others': another motor, or a wrong channel. */
function strangers(fit: FittedTerms, joint: readonly JointRun[]): FitWarning[] {
  const column = fit.terms.coordinates.indexOf('lnBackEmf')
  if (column < 0) return []
  return fit.minimum.sums.runs.flatMap(({ gradient, information }, r): FitWarning[] => {
    const weight = information[triangleAt(column, column)]!
    if (!(weight > 0)) return []
    const shift = -gradient[column]! / weight
    if (Math.abs(shift) < Math.max(STRANGE, STRANGE_SIGMAS / Math.sqrt(weight))) return []
    const percent = (100 * Math.expm1(shift)).toPrecision(2)
    const text = `this run alone would put k_e ${percent} % away from all runs together: another motor, or a channel that is wrong`
    return [{ code: 'contradicting-runs', text, run: joint[r]!.run.id }]
  })
}
