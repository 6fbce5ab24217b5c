import { REALISTIC } from '../../src/practice-rig/imperfections.ts'
import { defaultBench } from '../../src/practice-rig/default-bench.ts'
import { practiceSuite } from '../../src/practice-rig/practice-run.ts'
import { practiceTruth } from '../../src/practice-rig/practice-truth.ts'
import { identifyMotor } from '../../src/identify/identify-motor.ts'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import type { ParameterName } from '../../src/records/parameter.ts'
import type { ModelPoint } from '../../src/motor/parameters.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import { cramerRao, TRIAL_MOTOR, trialRuns, trialTruth } from './own-model-trial.ts'
import { practiceMotor } from './practice.ts'

export type Study = 'model' | 'rig'

/** Seeds `first`, `first + step`, … below `end`. */
export interface CoverageTask {
  readonly study: Study
  readonly motors: readonly string[]
  readonly first: number
  readonly step: number
  readonly end: number
}

/** What one fit said of one parameter, in units of what it is judged by. */
export interface ParameterSample {
  readonly name: ParameterName
  /** Null without a value. In parts of the Cramér–Rao bound (own model) or of the true value (rig). */
  readonly error: number | null
  readonly standardUncertainty: number | null
  readonly held: boolean
}

export interface CoverageSample {
  /** Law of the brush drop, or name of the practice motor. */
  readonly group: string
  readonly seed: number
  readonly parameters: readonly ParameterSample[]
}

const SETTINGS = { fixed: {}, freed: [], referenceTemperatureCelsius: 20 }
export const RIG_PARAMETERS = [
  'resistance',
  'inductance',
  'backEmfConstant',
  'brushDrop',
  'coulombTorque',
  'viscousCoefficient',
  'inertia',
] as const satisfies readonly ParameterName[]
/** Edges of the bridge 30 µs off the grid of samples at 10 kHz. */
const LEAD_SEC = 0.020_13

function fitted(name: string, runs: readonly TestRun[]): FitDocument {
  const fit = identifyMotor(name, runs, SETTINGS, () => true)
  if (!fit.ok) throw new Error(`${name}: ${fit.error.text}`)
  return fit.value
}

const LAWS: Readonly<Record<string, ModelPoint>> = {
  tanh: TRIAL_MOTOR,
  sgn: { ...TRIAL_MOTOR, brushKneeAmp: 0 },
}
export const LAW_NAMES = Object.keys(LAWS)
const bounds = new Map<string, Map<ParameterName, number>>()

/** One repetition on the fit's own model. */
export function modelSample(law: string, seed: number): CoverageSample {
  const motor = LAWS[law]!
  const bound = bounds.get(law) ?? cramerRao(motor)
  bounds.set(law, bound)
  const document = fitted(law, trialRuns(motor, seed))
  const truth = trialTruth(motor)
  const parameters = [...bound].map(([name, unit]) =>
    parameterSample(document, name, truth.get(name)!, unit),
  )
  return { group: law, seed, parameters }
}

/** Ends the names of groups that are driven by a bridge that switches. */
export const SWITCHED = ', PWM'

/** The whole set of tests of a practice motor, from a linear stage or, where its name ends so, by PWM. */
export function rigSample(group: string, seed: number): CoverageSample {
  const name = group.replace(SWITCHED, '')
  const motor = practiceMotor(name)
  const bench = defaultBench(motor, { bridge: group === name ? 'linear' : 'pwm' })
  const document = fitted(name, practiceSuite(motor, seed, { bench, leadSec: LEAD_SEC }))
  const truth = practiceTruth(motor, REALISTIC.imperfections)
  const parameters = RIG_PARAMETERS.map(parameter =>
    parameterSample(document, parameter, truth[parameter].value, truth[parameter].value),
  )
  return { group, seed, parameters }
}

function parameterSample(
  document: FitDocument,
  name: ParameterName,
  truth: number,
  unit: number,
): ParameterSample {
  const { value, standardUncertainty, lower95, upper95 } = document.parameters[name]
  if (value === null) return { name, error: null, standardUncertainty: null, held: false }
  return {
    name,
    error: (value - truth) / unit,
    standardUncertainty: standardUncertainty! / unit,
    held: lower95! <= truth && truth <= upper95!,
  }
}
