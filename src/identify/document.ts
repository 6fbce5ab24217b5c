import type {
  BudgetLine,
  DerivedResult,
  FitDocument,
  FittedModel,
  FitWarning,
  ParameterResult,
  ParameterStatus,
  SeparateResult,
} from '../contract/fit-document.ts'
import { PARAMETER_FACTS, PARAMETERS, type ParameterName } from '../records/parameter.ts'
import { coverageFactor } from '../statistics/distributions.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'

/** A parameter that has a value: found, following from another, or held by the user. */
export interface FoundParameter {
  readonly status: 'determined' | 'tied' | 'fixed'
  readonly estimate: Estimate
  /** Where the interval is not symmetric, as of a parameter fitted in its logarithm. */
  readonly interval95?: readonly [number, number]
  /** Where the quantity depends on temperature. */
  readonly atTestTemperature?: number | null
  readonly note?: string
}

/** A parameter without a value, and why. */
export interface MissingParameter {
  readonly status: 'not-determined' | 'not-in-model'
  readonly reason?: string
}

export type ParameterOutcome = FoundParameter | MissingParameter

export interface DocumentParts {
  readonly motor: string
  readonly runs: readonly number[]
  readonly referenceTemperatureCelsius: number
  readonly testTemperatureCelsius: number | null
  /** What is left out is not determined, for want of the test that `WANTED_TEST` names. */
  readonly parameters: Readonly<Partial<Record<ParameterName, ParameterOutcome>>>
  /** Names in the order of the matrix. */
  readonly correlation: {
    readonly names: readonly ParameterName[]
    readonly matrix: readonly (readonly number[])[]
  }
  readonly budget: Readonly<Partial<Record<ParameterName, readonly BudgetLine[]>>>
  readonly derived: Readonly<Record<string, DerivedResult>>
  readonly separate: Readonly<Record<string, SeparateResult>>
  readonly goodness: FitDocument['goodness']
  readonly termination: string
  /** What a simulation needs beside the parameters. */
  readonly model?: FittedModel
  readonly warnings: readonly FitWarning[]
}

/** Which test would determine a parameter. */
export const WANTED_TEST: Readonly<Record<ParameterName, string>> = {
  resistance: 'a locked-rotor test at several voltages determines it',
  inductance:
    'a locked-rotor recording fast enough for the current rise (several samples within L/R) determines it',
  backEmfConstant: 'a coast-down with the voltage across the motor, or a free run, determines it',
  torqueConstant:
    'a load test with a torque sensor, or a run-up with a known added inertia, determines it',
  brushDrop: 'a locked-rotor test at several current levels determines it',
  coulombTorque: 'a free run at several speeds determines it',
  staticTorque:
    'a slow ramp of the voltage from standstill until the shaft breaks away determines it',
  viscousCoefficient: 'a free run at several speeds determines it',
  windageCoefficient: 'a free run up to the highest speed, at four speeds or more, determines it',
  offsetTorque: 'free runs in both directions determine it',
  inertia: 'a run-up, or a coast-down beside a free run, determines it',
}

/** The document `fit/1`, every parameter present whatever is known of it. */
export function buildFitDocument(parts: DocumentParts): FitDocument {
  const parameters = Object.fromEntries(
    PARAMETERS.map(name => [name, parameterResult(name, believable(name, parts.parameters[name]))]),
  ) as Record<ParameterName, ParameterResult>
  return {
    schema: 'fit/1',
    motor: parts.motor,
    runs: [...parts.runs],
    referenceTemperatureCelsius: parts.referenceTemperatureCelsius,
    testTemperatureCelsius: parts.testTemperatureCelsius,
    parameters,
    correlation: {
      names: [...parts.correlation.names],
      matrix: parts.correlation.matrix.map(row => [...row]),
    },
    budget: Object.fromEntries(
      Object.entries(parts.budget).map(([name, lines]) => [name, [...lines]]),
    ),
    derived: { ...parts.derived },
    separate: { ...parts.separate },
    goodness: parts.goodness,
    termination: parts.termination,
    ...(parts.model ? { model: parts.model } : {}),
    warnings: [...parts.warnings],
  }
}

/** What no motor has at nil or below; an interval that reaches nil says that the data do not tell it. */
const ABOVE_NIL: readonly ParameterName[] = [
  'resistance',
  'inductance',
  'backEmfConstant',
  'torqueConstant',
  'inertia',
  'coulombTorque',
  'staticTorque',
  'viscousCoefficient',
  'windageCoefficient',
  'brushDrop',
]

function believable(
  name: ParameterName,
  outcome: ParameterOutcome | undefined,
): ParameterOutcome | undefined {
  if (!outcome || !('estimate' in outcome) || outcome.status === 'fixed') return outcome
  if (!ABOVE_NIL.includes(name)) return outcome
  const { value } = outcome.estimate
  const reachesNil = intervalOf(outcome)[0] <= 0
  // Of a parameter fitted in its logarithm the interval never does.
  if (!reachesNil && halfWidth(outcome) < value) return outcome
  const why = reachesNil ? 'its 95 % interval reaches nil' : 'it is as uncertain as it is large'
  return { status: 'not-determined', reason: `${why}; ${WANTED_TEST[name]}` }
}

function halfWidth({ estimate }: FoundParameter): number {
  const { standardUncertainty, degreesOfFreedom } = estimate
  return standardUncertainty > 0 ? coverageFactor(degreesOfFreedom) * standardUncertainty : 0
}

function intervalOf(found: FoundParameter): readonly [number, number] {
  const half = halfWidth(found)
  const { value } = found.estimate
  return found.interval95 ?? [value - half, value + half]
}

function parameterResult(
  name: ParameterName,
  outcome: ParameterOutcome = { status: 'not-determined' },
): ParameterResult {
  const { unit } = PARAMETER_FACTS[name]
  if (!('estimate' in outcome)) return withoutValue(name, unit, outcome)
  const { value, standardUncertainty } = outcome.estimate
  const [lower, upper] = intervalOf(outcome)
  return {
    unit,
    status: outcome.status,
    value,
    standardUncertainty: finiteOrNull(standardUncertainty),
    lower95: finiteOrNull(lower),
    upper95: finiteOrNull(upper),
    ...(outcome.atTestTemperature === undefined
      ? {}
      : { atTestTemperature: outcome.atTestTemperature }),
    ...(outcome.note === undefined ? {} : { note: outcome.note }),
  }
}

function withoutValue(
  name: ParameterName,
  unit: string,
  outcome: MissingParameter,
): ParameterResult {
  const status: ParameterStatus = outcome.status
  const reason = outcome.reason ?? (status === 'not-determined' ? WANTED_TEST[name] : undefined)
  return {
    unit,
    status,
    value: null,
    standardUncertainty: null,
    lower95: null,
    upper95: null,
    ...(reason === undefined ? {} : { reason }),
  }
}

/** Correlation matrix of a covariance; 1 on the diagonal also where nothing is uncertain. */
export function correlationOf(covariance: readonly (readonly number[])[]): number[][] {
  return covariance.map((row, j) =>
    row.map((value, k) => {
      if (j === k) return 1
      const scale = Math.sqrt(covariance[j]![j]! * covariance[k]![k]!)
      return scale > 0 ? Math.min(1, Math.max(-1, value / scale)) : 0
    }),
  )
}

/** Lines of a budget with their shares of the variance, the largest first; nil contributions left out. */
export function budgetLines(
  parts: readonly { source: string; kind: 'A' | 'B'; standardUncertainty: number }[],
): BudgetLine[] {
  const used = parts.filter(
    part => part.standardUncertainty > 0 && Number.isFinite(part.standardUncertainty),
  )
  const total = used.reduce((sum, part) => sum + part.standardUncertainty ** 2, 0)
  return used
    .map(part => ({ ...part, share: part.standardUncertainty ** 2 / total }))
    .sort((a, b) => b.share - a.share)
}

export function finiteOrNull(value: number): number | null {
  return Number.isFinite(value) ? value : null
}
