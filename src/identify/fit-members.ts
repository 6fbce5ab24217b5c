import type { Coordinate, ModelPoint } from '../motor/parameters.ts'
import type { ObserverSetting } from '../motor/run-observer.ts'
import { JointModel, type JointPoint, type Member, type Prior } from './joint-model.ts'
import { MINIMISE_OPTIONS, type Minimum, minimise } from './minimise.ts'
import { type NoiseUnits, refineNoise, setUsualNoise } from './refine-noise.ts'
import { type RobustCovariance, robustCovariance } from './robust-covariance.ts'
import { FIRST_OFFSET, offsetVarianceOf } from './run-offsets.ts'

/** What the fits of one motor with different terms have in common. */
export interface FitBasis {
  readonly members: readonly Member[]
  readonly noiseUnits: readonly NoiseUnits[]
  readonly setting: ObserverSetting
  readonly priors: readonly Prior[]
  /**
   * Current at which a resting shaft broke away: the static torque follows it while the constant and the sliding
   * friction move. Null where none was seen, or where the static torque is held or fitted itself.
   */
  readonly breakAwayAmp: number | null
  /** Whitened residuals beyond this count by their size instead of its square. */
  readonly clip: number
  readonly goOn: () => boolean
  readonly search: Search
}

/** How far a search goes to find the optimum. */
export interface Search {
  /** Factors on the start value of the knee current from which the best end is taken. */
  readonly kneeStarts: readonly number[]
  /** No round goes on for less than this expected gain in χ². */
  readonly leastGain: number
  /** What excerpts come to is near enough for the search to go on. */
  readonly isNear: (motor: ModelPoint) => boolean
}

export const WHOLE_SEARCH: Search = {
  kneeStarts: [10, 3, 1, 0.3],
  leastGain: MINIMISE_OPTIONS.expectedGain,
  isNear: () => true,
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

/** How far a fit is taken; offsets are estimated anew before each round. */
interface Round {
  /** Levels as they are, the usual ones of a motor, or those that the runs themselves show. */
  readonly noise: 'as-is' | 'usual' | 'searched'
  /** Factor on where residuals are clipped: far from the optimum much lies out that is sound. */
  readonly patience: number
  readonly expectedGain: number
  readonly maxPasses: number
}

const ROUGH: Round = { noise: 'usual', patience: 5, expectedGain: 1, maxPasses: 30 }
const BETTER: Round = { noise: 'usual', patience: 5, expectedGain: 0.1, maxPasses: 20 }
const NEARER: Round = { noise: 'searched', patience: 1, expectedGain: 0.1, maxPasses: 15 }
const LAST: Round = {
  noise: 'searched',
  patience: 1,
  expectedGain: MINIMISE_OPTIONS.expectedGain,
  maxPasses: 40,
}
const SETTLED: Round = { ...LAST, noise: 'as-is' }
const WINDING: Round = { noise: 'usual', patience: 5, expectedGain: 0.1, maxPasses: 30 }
const FIRST_LOOK: Round = { ...WINDING, maxPasses: 6 }
const SAME_NOISE: Round = { noise: 'as-is', patience: 1, expectedGain: 0.01, maxPasses: 20 }

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
/** Locked runs are alike where the drop bends: which start is best needs no more than these. */
const RUNS_FOR_A_LOOK = 2

/**
 * Fits one set of terms from start values that need only be rough: the winding on the locked runs, then
 * the shaft with the winding, then the shaft's finer terms beside a winding that the locked runs told,
 * so far on excerpts; and all terms on all there is, with the noise that is left.
 */
export function fitFromScratch(basis: FitBasis, terms: FitTerms, start: JointPoint): FittedTerms {
  const coarse = { ...basis, members: basis.members.map(m => ({ ...m, run: m.excerpt })) }
  const wound = fitWinding(coarse, terms, start)
  const first = withoutCoordinates(terms, LATER)
  const rough = fitRounds(coarse, first, wound, [ROUGH], FIRST_OFFSET ** 2)
  if (!rough.minimum.usable) return withoutCovariance(rough)
  const shaft = wound === start ? terms : withoutCoordinates(terms, ELECTRIC)
  const { point } = rough.minimum
  const better = fitRounds(coarse, shaft, point, [BETTER], rough.model.offsetVariance)
  const isStart = better.minimum.usable && basis.search.isNear(better.minimum.point.motor)
  if (!isStart) return withoutCovariance(better)
  return withCovariance(
    fitRounds(basis, terms, better.minimum.point, [NEARER, LAST], better.model.offsetVariance),
  )
}

const withoutCoordinates = (terms: FitTerms, held: ReadonlySet<Coordinate>): FitTerms => ({
  ...terms,
  coordinates: terms.coordinates.filter(c => !held.has(c)),
})

/**
 * Fits a set of terms from the optimum of one that differs by some.
 * @param searchNoise the noise levels are searched anew; else they stay
 */
export function fitNearby(
  basis: FitBasis,
  terms: FitTerms,
  start: JointPoint,
  offsetVariance: number,
  searchNoise: boolean,
): FittedTerms {
  return withCovariance(
    fitRounds(basis, terms, start, [SAME_NOISE, searchNoise ? LAST : SETTLED], offsetVariance),
  )
}

export function startPoint(motor: ModelPoint, members: readonly Member[]): JointPoint {
  const groups = Math.max(0, ...members.map(({ group }) => group + 1))
  return { motor, offsets: new Float64Array(groups) }
}

/** Where runs do not differ: offsets that stayed would leave with the first step, and no step would do better. */
const withoutOffsets = ({ motor, offsets }: JointPoint): JointPoint => ({
  motor,
  offsets: new Float64Array(offsets.length),
})

const brokenAwayAt = (amp: number, motor: ModelPoint): ModelPoint => ({
  ...motor,
  staticExcessNm: Math.max(0, motor.torqueConstantNmPerA * amp - motor.coulombTorqueNm),
})

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
  const { members, noiseUnits, setting, priors, breakAwayAmp, clip, goOn, search } = basis
  const layout = { coordinates: terms.coordinates, tied: terms.tied }
  const choices = { layout, setting, priors }
  const model = new JointModel(members, choices, start.offsets.length, offsetVariance)
  let minimum: Minimum | null = null
  for (const { noise, patience, expectedGain, maxPasses } of rounds) {
    let point = minimum?.point ?? start
    if (minimum !== null) model.offsetVariance = offsetVarianceOf(model, point, minimum.sums)
    if (model.offsetVariance === 0) point = withoutOffsets(point)
    if (breakAwayAmp !== null) point = { ...point, motor: brokenAwayAt(breakAwayAmp, point.motor) }
    model.clip = patience * clip
    if (noise === 'usual') setUsualNoise(model, noiseUnits)
    if (noise === 'searched') refineNoise(model, point, noiseUnits)
    model.setGains(point)
    const gain = Math.max(expectedGain, search.leastGain)
    minimum = minimise(model, point, goOn, { ...MINIMISE_OPTIONS, expectedGain: gain, maxPasses })
    if (!minimum.usable) break
  }
  return { terms, model, minimum: minimum! }
}

/**
 * Resistance, inductance and brush drop from the locked runs alone. The bend of the drop has several
 * minima: the best end of several starts is taken.
 */
function fitWinding(basis: FitBasis, terms: FitTerms, start: JointPoint): JointPoint {
  const coordinates = terms.coordinates.filter(c => ELECTRIC.has(c))
  const held = basis.members.flatMap((member, r) => (member.run.shaft === 'locked' ? [r] : []))
  if (held.length === 0 || coordinates.length === 0) return start
  const factors = coordinates.includes('lnKnee') ? basis.search.kneeStarts : [1]
  const fitFrom = (some: readonly number[], from: JointPoint, round: Round) => {
    const members = some.map(r => ({ ...basis.members[r]! }))
    const part = { ...basis, members, noiseUnits: some.map(r => basis.noiseUnits[r]!) }
    return fitRounds(part, { ...terms, coordinates }, from, [round], FIRST_OFFSET ** 2).minimum
  }
  const few = held.slice(0, RUNS_FOR_A_LOOK)
  let best: Minimum | null = null
  for (const factor of factors) {
    const motor = { ...start.motor, brushKneeAmp: start.motor.brushKneeAmp * factor }
    const end = fitFrom(few, { motor, offsets: start.offsets }, FIRST_LOOK)
    if (end.usable && (best === null || end.sums.cost < best.sums.cost)) best = end
  }
  if (best === null) return start
  const settled = best.termination === 'converged' && few.length === held.length
  return settled ? best.point : fitFrom(held, best.point, WINDING).point
}

function withCovariance(fitted: Fitted): FittedTerms {
  const { model, minimum } = fitted
  if (!minimum.usable) return withoutCovariance(fitted)
  return { ...fitted, covariance: robustCovariance(model, minimum.point, minimum.sums) }
}

function withoutCovariance(fitted: Fitted): FittedTerms {
  return { ...fitted, covariance: null }
}
