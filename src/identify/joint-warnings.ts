import type { FitWarning } from '../contract/fit-document.ts'
import { triangleAt } from '../numerics/symmetric.ts'
import type { TestRun } from '../records/test-run.ts'
import { median } from '../statistics/robust.ts'
import { type ChosenTerms, judge } from './choose-terms.ts'
import type { FittedTerms } from './fit-members.ts'
import type { JointRun } from './joint-members.ts'

/** Says where friction that differs by direction was not asked for and yet stands out. */
export function frictionByDirection(
  first: FittedTerms,
  { fit, leftOut }: ChosenTerms,
): FitWarning[] {
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
export function strangers(fit: FittedTerms, joint: readonly JointRun[]): FitWarning[] {
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

/** Of a resistance, relative: shaft angles, contacts and temperatures make up for less. */
const RESISTANCE_APART = 0.2

/** Held and turning runs, or different shaft angles, whose resistances no bench explains. */
export function resistancesApart(fit: FittedTerms, joint: readonly JointRun[]): FitWarning[] {
  const column = fit.terms.coordinates.indexOf('lnResistance')
  if (column < 0) return []
  const { point, sums } = fit.minimum
  const groups = sums.groups.flatMap(({ gradient, information }, g) => {
    const weight = information[triangleAt(column, column)]!
    const runs = joint.filter(({ member }) => member.group === g).map(({ run }) => run.id)
    return weight > 0 && runs.length > 0
      ? [{ runs, ln: point.offsets[g]! - gradient[column]! / weight, weight }]
      : []
  })
  if (groups.length < 2) return []
  const middle = median(groups.map(({ ln }) => ln))
  // The middle of two lies halfway between them.
  const apart = groups.length === 2 ? RESISTANCE_APART / 2 : RESISTANCE_APART
  const odd = groups
    .filter(
      ({ ln, weight }) =>
        Math.abs(ln - middle) > apart && Math.abs(ln - middle) > STRANGE_SIGMAS / Math.sqrt(weight),
    )
    .sort((a, b) => Math.abs(b.ln - middle) - Math.abs(a.ln - middle))[0]
  if (odd === undefined) return []
  const ohm = (ln: number) => `${(point.motor.resistanceOhm * Math.exp(ln)).toPrecision(3)} Ω`
  const others = groups.filter(group => group !== odd)
  const rest = ohm(median(others.map(({ ln }) => ln)))
  const text =
    `winding resistance ${ohm(odd.ln)} here and ${rest} in run ${others.flatMap(({ runs }) => runs).join(', ')}: ` +
    'another motor, a bad contact, or a winding far from the temperature that was stated'
  return odd.runs.map(run => ({ code: 'contradicting-runs', text, run }))
}

/** Runs that the joint fit cannot take, and nothing else was said of: what they tell stands beside it. */
export function runsBeside(
  runs: readonly TestRun[],
  joint: readonly JointRun[],
  said: readonly FitWarning[],
): FitWarning[] {
  const silent = runs.filter(
    ({ id, kind }) =>
      kind !== 'zero' &&
      !joint.some(({ run }) => run.id === id) &&
      !said.some(({ run, code }) => run === id && NAMED.has(code)),
  )
  return silent.map(({ id, recording }) => ({
    code: 'not-fitted-jointly',
    text:
      recording.timeSec === null
        ? 'a table of steady readings: what it says on its own stands beside, it is not in the fit of all runs together'
        : 'too short, or without the channels that a model needs: it is not in the fit of all runs together',
    run: id,
  }))
}

/** Findings that already say why a run is left out. */
const NAMED: ReadonlySet<string> = new Set([
  'left-out',
  'run-unusable',
  'constant-channel',
  'saturated-channel',
  'swapped-channels',
  'current-polarity',
])
