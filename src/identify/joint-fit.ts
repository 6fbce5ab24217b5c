import { failure, type Result, success } from '../base/result.ts'
import type { FitDocument, FitWarning } from '../contract/fit-document.ts'
import type { Coordinate } from '../motor/parameters.ts'
import type { BrushDropLaw } from '../records/law.ts'
import type { TestRun } from '../records/test-run.ts'
import { chooseTerms } from './choose-terms.ts'
import { COORDINATE_OF, withFixed } from './fit-coordinates.ts'
import {
  type FitBasis,
  type FittedTerms,
  fitFromScratch,
  fitNearby,
  startPoint,
  WHOLE_SEARCH,
} from './fit-members.ts'
import { type FitPlan, largestAmp, planOf } from './fit-plan.ts'
import { CANCELLED, type FitFault, type FitSettings, type OnFitProgress } from './fit-settings.ts'
import { documentOf } from './joint-document.ts'
import { type JointRun, jointRuns } from './joint-members.ts'
import { kinOf } from './kin.ts'
import { zeroOffsets } from './run-zeros.ts'
import { lagParts, lagWarning, speedLagSec, withoutLag } from './speed-lag.ts'

/**
 * The parameters of a motor from all its runs at once, by maximum likelihood under a noise model for
 * every channel (see `RunObserver`). Start values come from the runs, terms from the evidence, and
 * uncertainties from the residuals as they are.
 *
 * What each test says on its own (`separate`) stands beside it. Hand-read tables and whatever the model
 * cannot follow are left to that: it is returned as it is where no sampled run is left.
 */
export function jointFit(
  separate: FitDocument,
  motor: string,
  runs: readonly TestRun[],
  settings: FitSettings,
  progress: OnFitProgress,
  like: FitDocument | null = null,
): Result<FitDocument, FitFault> {
  let going = true
  const tell = (fraction: number, text: string) => {
    going = going && progress({ fraction, text })
  }
  const referenceCelsius = settings.referenceTemperatureCelsius
  tell(0.1, 'preparing the runs')
  const accused = accusedRuns(separate, runs)
  const textbook = withWarnings(separate, accused.map(wordOfAccused))
  const sound = runs.filter(({ id }) => !accused.includes(id))
  const zeros = zeroOffsets(runs)
  const joint = jointRuns(sound, zeros, referenceCelsius)
  const plan = planOf(joint, textbook, settings)
  if (plan === null) return success(textbook)
  tell(0.2, 'all runs together')
  const whole: FitBasis = { ...plan.basis, goOn: () => going, search: WHOLE_SEARCH }
  const near = like && fitLike(like, whole, plan, settings)
  const { basis, first } = near ?? {
    basis: whole,
    first: fitFromScratch(whole, plan.terms, startPoint(plan.start, whole.members)),
  }
  if (!going) return failure(CANCELLED)
  tell(0.5, 'when the speed is read')
  const lag = fitLag(first, basis, sound, shiftedRuns =>
    jointRuns(shiftedRuns, zeros, referenceCelsius),
  )
  if (!going) return failure(CANCELLED)
  tell(0.7, 'weighing the terms')
  const kept = new Set([
    ...settings.freed.map(name => COORDINATE_OF[name]),
    ...KEPT_BY_LAW[settings.brushDropLaw ?? 'none'],
  ])
  const chosen = chooseTerms(
    lag?.basis ?? basis,
    lag?.first ?? first,
    kept,
    largestAmp(joint),
    text => tell(0.8, text),
    settings.frictionLaw === 'by-direction' ? [] : ['viscousDifference'],
  )
  if (!going) return failure(CANCELLED)
  if (chosen.fit.covariance === null) return success(withWarnings(textbook, [FELL_BACK]))
  tell(0.95, 'uncertainties')
  const document = documentOf({
    motor,
    runs,
    settings,
    textbook: lag ? withWarnings(textbook, [lagWarning(lag.sec)]) : textbook,
    joint: lag?.joint ?? joint,
    plan,
    first: lag?.first ?? first,
    chosen,
    doubts: lag ? lagParts(first, lag.first) : [],
  })
  const begun = near && `; begun beside the fit of '${like!.motor}'`
  return success(begun ? { ...document, termination: document.termination + begun } : document)
}

/** The search begun beside a motor of the same kind; null where it turns out to be of another. */
function fitLike(like: FitDocument, whole: FitBasis, plan: FitPlan, { fixed }: FitSettings) {
  const kin = kinOf(like, plan.start)
  if (kin === null) return null
  const levels = whole.members.map(({ noise }) => noise)
  const basis = { ...whole, search: kin.search }
  const motor = withFixed(kin.start, fixed, plan.terms.tied)
  const first = fitFromScratch(basis, plan.terms, startPoint(motor, basis.members))
  const isLike = first.covariance !== null && kin.search.isNear(first.minimum.point.motor)
  if (isLike) return { basis, first }
  whole.members.forEach((member, r) => {
    member.noise = levels[r]!
  })
  return null
}

/**
 * The fit with the speeds where they belong, from the optimum of that with the speeds as they came; null where
 * they belong there, or where the residuals ask for nothing.
 */
function fitLag(
  first: FittedTerms,
  basis: FitBasis,
  runs: readonly TestRun[],
  prepared: (runs: readonly TestRun[]) => JointRun[],
) {
  const { terms, minimum, model, covariance } = first
  if (covariance === null || !covariance.misfit) return null
  const shifted = (sec: number) => {
    const joint = prepared(withoutLag(runs, sec))
    // Of the same runs, in the same order, with the noise that was found.
    joint.forEach(({ member }, r) => {
      member.noise = basis.members[r]!.noise
    })
    return { joint, basis: { ...basis, members: joint.map(({ member }) => member) } }
  }
  const nearby = (part: FitBasis, search: boolean) =>
    fitNearby(part, terms, minimum.point, model.offsetVariance, search)
  const excerpted = (part: FitBasis): FitBasis => ({
    ...part,
    members: part.members.map(member => ({ ...member, run: member.excerpt })),
  })
  const cost = (sec: number) => {
    const { sums, usable } = nearby(excerpted(shifted(sec).basis), false).minimum
    // Runs are merged to more or fewer steps, each of which costs about one.
    const excess = sums.cost - sums.readings
    return usable && Number.isFinite(excess) ? excess : Number.POSITIVE_INFINITY
  }
  const sec = speedLagSec(runs, cost(0), cost)
  if (sec === 0) return null
  const moved = shifted(sec)
  const again = nearby(moved.basis, true)
  return again.covariance === null ? null : { ...moved, first: again, sec }
}

const FELL_BACK: FitWarning = {
  code: 'joint-fit-failed',
  text: 'the runs together do not settle on one motor; each test is shown on its own instead',
}

const KEPT_BY_LAW: Readonly<Record<BrushDropLaw, readonly Coordinate[]>> = {
  tanh: ['brushDrop', 'lnKnee'],
  sgn: ['brushDrop'],
  none: [],
}

/** What the tests on their own may find of a run that makes its numbers another motor's. */
const DISQUALIFYING = new Set([
  'speed-unit',
  'speed-polarity',
  'current-polarity',
  'current-unit',
  'constant-channel',
])

/** Runs that a finding disqualifies, unless that leaves none that moves. */
function accusedRuns({ warnings }: FitDocument, runs: readonly TestRun[]): number[] {
  const accused = new Set(
    warnings.flatMap(({ code, run, outvoted }) =>
      (DISQUALIFYING.has(code) || outvoted === true) && run !== undefined ? [run] : [],
    ),
  )
  const rest = runs.filter(({ id, kind }) => kind !== 'zero' && !accused.has(id))
  return rest.length > 0 ? [...accused] : []
}

const wordOfAccused = (run: number): FitWarning => ({
  code: 'left-out',
  text: 'left out where all runs are fitted together, for what is said of it above',
  run,
})

function withWarnings(document: FitDocument, warnings: readonly FitWarning[]): FitDocument {
  return { ...document, warnings: [...document.warnings, ...warnings] }
}
