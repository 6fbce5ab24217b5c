import { chooseTerms } from '../../src/identify/choose-terms.ts'
import {
  type FittedTerms,
  fitFromScratch,
  startPoint,
  WHOLE_SEARCH,
} from '../../src/identify/fit-members.ts'
import { largestAmp, planOf } from '../../src/identify/fit-plan.ts'
import { identifyMotor } from '../../src/identify/identify-motor.ts'
import { jointRuns } from '../../src/identify/joint-members.ts'
import { zeroOffsets } from '../../src/identify/run-zeros.ts'
import { textbookFit } from '../../src/identify/textbook-fit.ts'
import { coordinateValue, type ModelPoint } from '../../src/motor/parameters.ts'
import type { ParameterName } from '../../src/records/parameter.ts'
import type { RandomCase } from './random-motors.ts'

export interface CaseOutcome {
  readonly found: boolean
  /** What was wrong, one entry a parameter. */
  readonly faults: readonly string[]
  readonly determined: readonly ParameterName[]
}

const SETTINGS = { fixed: {}, freed: [], referenceTemperatureCelsius: 20 }
/** Every set of tests tells these. */
const ALWAYS_TOLD: ReadonlySet<ParameterName> = new Set<ParameterName>([
  'resistance',
  'backEmfConstant',
  'coulombTorque',
  'inertia',
])
const WITHIN_UNCERTAINTIES = 5
const WITHIN_SHARE = 0.01

/** In standard uncertainties: transitions that hop from sample to sample leave two ends of one minimum apart. */
const SAME_END = 0.5

/**
 * Whether the fit ends on the same motor as one that begins at the true motor: then start values are not what
 * keeps it from the truth.
 */
export function endsAsFromTheTruth(random: RandomCase): boolean {
  const separate = textbookFit(`random ${random.seed}`, random.runs, SETTINGS)
  if (!separate.ok) return false
  const endFrom = (ahead: Partial<ModelPoint>) => {
    const joint = jointRuns(
      random.runs,
      zeroOffsets(random.runs),
      SETTINGS.referenceTemperatureCelsius,
    )
    const plan = planOf(joint, separate.value, SETTINGS)
    if (plan === null) return null
    const basis = { ...plan.basis, goOn: () => true, search: WHOLE_SEARCH }
    const start = startPoint({ ...plan.start, ...ahead }, basis.members)
    const first = fitFromScratch(basis, plan.terms, start)
    const most = largestAmp(joint)
    return chooseTerms(basis, first, new Set(), most, () => {}, ['viscousDifference']).fit
  }
  // The bend of the drop is looked for from several sides in any case.
  const { brushKneeAmp: _, ...truth } = random.motor
  const [own, other] = [endFrom({}), endFrom(truth)]
  if (!own?.covariance || !other?.covariance) return false
  const { coordinates } = own.terms
  if (coordinates.join() !== other.terms.coordinates.join()) return false
  const valuesOf = ({ minimum }: FittedTerms) =>
    coordinates.map(coordinate => coordinateValue(minimum.point.motor, coordinate))
  const [here, there] = [valuesOf(own), valuesOf(other)]
  return coordinates.every((_, c) => {
    const uncertainty = Math.sqrt(own.covariance!.matrix[c]![c]!)
    return Math.abs(here[c]! - there[c]!) <= SAME_END * uncertainty
  })
}

/** Fits the runs of a random motor from nothing and holds what came out against the truth. */
export function judgeCase(random: RandomCase): CaseOutcome {
  const fit = identifyMotor(`random ${random.seed}`, random.runs, SETTINGS, () => true)
  if (!fit.ok) return { found: false, faults: [fit.error.text], determined: [] }
  const { parameters, termination, warnings } = fit.value
  const faults: string[] = []
  const determined: ParameterName[] = []
  if (warnings.some(({ code }) => code === 'joint-fit-failed')) faults.push('no joint fit')
  // Words of TERMINATIONS for an end at a minimum.
  else if (!/^(converged|no further descent)/.test(termination)) faults.push(termination)
  for (const [name, truth] of truthOf(random)) {
    const { status, value, standardUncertainty } = parameters[name]
    if (status !== 'determined') {
      if (ALWAYS_TOLD.has(name)) faults.push(`${name} is ${status}`)
      continue
    }
    determined.push(name)
    const off = value! - truth
    const near = Math.abs(off) <= WITHIN_UNCERTAINTIES * standardUncertainty!
    if (near || Math.abs(off) <= WITHIN_SHARE * Math.abs(truth)) continue
    const share = truth === 0 ? '' : `, ${((100 * off) / truth).toPrecision(2)} %`
    faults.push(
      `${name} ${value!.toPrecision(4)} for ${truth} (${(off / standardUncertainty!).toPrecision(2)} u${share})`,
    )
  }
  return { found: faults.length === 0, faults, determined }
}

function truthOf({ motor }: RandomCase): [ParameterName, number][] {
  return [
    ['resistance', motor.resistanceOhm],
    ['inductance', motor.inductanceHenry],
    ['backEmfConstant', motor.backEmfConstantVsPerRad],
    ['torqueConstant', motor.torqueConstantNmPerA],
    ['brushDrop', motor.brushDropVolt],
    ['coulombTorque', motor.coulombTorqueNm],
    ['staticTorque', motor.coulombTorqueNm + motor.staticExcessNm],
    ['viscousCoefficient', motor.viscousNmsPerRad],
    ['windageCoefficient', motor.windageNms2PerRad2],
    ['offsetTorque', motor.offsetTorqueNm],
    ['inertia', motor.inertiaKgM2],
  ]
}
