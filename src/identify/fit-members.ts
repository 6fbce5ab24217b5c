import type { Coordinate, ModelPoint } from '../motor/parameters.ts'
import type { ObserverSetting } from '../motor/run-observer.ts'
import { JointModel, type JointPoint, type Member, type Prior } from './joint-model.ts'
import { MINIMISE_OPTIONS, type Minimum, minimise } from './minimise.ts'
import { type NoiseUnits, refineNoise } from './refine-noise.ts'
import { type RobustCovariance, robustCovariance } from './robust-covariance.ts'
import { FIRST_OFFSET, offsetVarianceOf } from './run-offsets.ts'

/** What the fits of one motor with different terms have in common. */
export interface FitBasis {
  readonly members: readonly Member[]
  readonly noiseUnits: readonly NoiseUnits[]
  readonly setting: ObserverSetting
  readonly priors: readonly Prior[]
  /** Whitened residuals beyond this count by their size instead of its square. */
  readonly clip: number
  readonly goOn: () => boolean
}

/** Which coordinates move. */
export interface FitTerms {
  readonly coordinates: readonly Coordinate[]
  readonly tied: boolean
}

export interface FittedTerms {
  readonly terms: FitTerms
  readonly model: JointModel
  readonly minimum: Minimum
  /** Null where the data leave some direction wholly open, or the fit broke off. */
  readonly covariance: RobustCovariance | null
}

/** How far a fit is taken: noise and offsets are estimated anew before each round. */
interface Round {
  readonly sweeps: number
  readonly anew: boolean
  readonly expectedGain: number
  readonly maxPasses: number
}

const ROUGH: Round = { sweeps: 1, anew: true, expectedGain: 1, maxPasses: 20 }
const BETTER: Round = { sweeps: 1, anew: true, expectedGain: 0.1, maxPasses: 20 }
const LAST: Round = {
  sweeps: 1,
  anew: false,
  expectedGain: MINIMISE_OPTIONS.expectedGain,
  maxPasses: 40,
}
const SETTLED: Round = { ...LAST, sweeps: 0 }
const SAME_NOISE: Round = { sweeps: 0, anew: false, expectedGain: 0.01, maxPasses: 20 }

/** Held until the others are near: beside poor ones these run away. */
const LATER: ReadonlySet<Coordinate> = new Set<Coordinate>([
  'lnKnee',
  'heating',
  'cooling',
  'windage',
  'viscousDifference',
  'staticExcess',
])
/** What a locked rotor tells by itself. */
const ELECTRIC: ReadonlySet<Coordinate> = new Set<Coordinate>([
  'lnResistance',
  'lnInductance',
  'brushDrop',
  'lnKnee',
  'heating',
])
/** Factors on the start value of the knee current from which the best end is taken. */
const KNEE_STARTS = [10, 3, 1, 0.3]

/** Fits one set of terms from start values that need only be rough: excerpts of the runs first. */
export function fitFromScratch(basis: FitBasis, terms: FitTerms, start: JointPoint): FittedTerms {
  const first = { ...terms, coordinates: terms.coordinates.filter(c => !LATER.has(c)) }
  const excerpts = basis.members.map(member => ({ ...member, run: member.excerpt }))
  const coarse = { ...basis, members: excerpts }
  const rough = fitRounds(coarse, first, start, [ROUGH], FIRST_OFFSET ** 2)
  if (!rough.minimum.usable) return withoutCovariance(rough)
  const bent = terms.coordinates.includes('lnKnee') ? bestKnee(coarse, terms, rough) : rough
  const { point } = bent.minimum
  const near = fitRounds(basis, terms, point, [BETTER, LAST], bent.model.offsetVariance)
  return withCovariance(near)
}

/** Fits a set of terms from the optimum of one that differs by a term. */
export function fitNearby(
  basis: FitBasis,
  terms: FitTerms,
  start: JointPoint,
  offsetVariance: number,
): FittedTerms {
  return withCovariance(fitRounds(basis, terms, start, [SAME_NOISE, SETTLED], offsetVariance))
}

export function startPoint(motor: ModelPoint, members: readonly Member[]): JointPoint {
  const groups = Math.max(0, ...members.map(({ group }) => group + 1))
  return { motor, offsets: new Float64Array(groups) }
}

interface Fitted {
  readonly terms: FitTerms
  readonly model: JointModel
  readonly minimum: Minimum
}

function fitRounds(
  basis: FitBasis,
  terms: FitTerms,
  start: JointPoint,
  rounds: readonly Round[],
  offsetVariance: number,
): Fitted {
  const { members, noiseUnits, setting, priors, clip, goOn } = basis
  const layout = { coordinates: terms.coordinates, tied: terms.tied }
  const choices = { layout, setting, priors }
  const model = new JointModel(members, choices, start.offsets.length, offsetVariance)
  model.clip = clip
  let minimum: Minimum | null = null
  for (const { sweeps, anew, expectedGain, maxPasses } of rounds) {
    const point = minimum?.point ?? start
    if (minimum !== null) model.offsetVariance = offsetVarianceOf(model, point, minimum.sums)
    if (sweeps > 0) refineNoise(model, point, noiseUnits, sweeps, anew)
    else model.setGains(point)
    minimum = minimise(model, point, goOn, { ...MINIMISE_OPTIONS, expectedGain, maxPasses })
    if (!minimum.usable) break
  }
  return { terms, model, minimum: minimum! }
}

/** The bend of the brush drop has several minima: the locked runs alone decide between starts. */
function bestKnee(basis: FitBasis, terms: FitTerms, rough: Fitted): Fitted {
  const start = rough.minimum.point
  const held = basis.members.flatMap((member, r) => (member.run.shaft === 'locked' ? [r] : []))
  if (held.length === 0) return rough
  const electric = { ...terms, coordinates: terms.coordinates.filter(c => ELECTRIC.has(c)) }
  // Groups keep their numbers: those of other runs stay at their offsets.
  const members = held.map(r => ({ ...basis.members[r]! }))
  const part = { ...basis, members, noiseUnits: held.map(r => basis.noiseUnits[r]!) }
  const { offsetVariance } = rough.model
  let best: { cost: number; motor: ModelPoint } | null = null
  for (const factor of KNEE_STARTS) {
    const motor = { ...start.motor, brushKneeAmp: start.motor.brushKneeAmp * factor }
    const from = { motor, offsets: start.offsets }
    const { minimum } = fitRounds(part, electric, from, [SAME_NOISE], offsetVariance)
    if (minimum.usable && (best === null || minimum.sums.cost < best.cost)) {
      best = { cost: minimum.sums.cost, motor: minimum.point.motor }
    }
  }
  if (best === null) return rough
  const point = { motor: best.motor, offsets: start.offsets }
  return { ...rough, minimum: { ...rough.minimum, point } }
}

function withCovariance(fitted: Fitted): FittedTerms {
  const { model, minimum } = fitted
  if (!minimum.usable) return withoutCovariance(fitted)
  return { ...fitted, covariance: robustCovariance(model, minimum.point, minimum.sums) }
}

function withoutCovariance(fitted: Fitted): FittedTerms {
  return { ...fitted, covariance: null }
}
