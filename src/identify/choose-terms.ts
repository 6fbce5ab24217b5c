import type { ModelPoint } from '../motor/parameters.ts'
import { type Coordinate, coordinateValue } from '../motor/parameters.ts'
import { OPTIONAL } from './fit-coordinates.ts'
import { type FitBasis, type FittedTerms, fitNearby } from './fit-members.ts'
import { hasLostDisturbance } from './refine-noise.ts'

/** A term that was tried and left out, and why. */
export interface LeftOut {
  readonly coordinate: Coordinate
  readonly because: 'no-evidence' | 'not-told' | 'not-asked'
}

export interface ChosenTerms {
  readonly fit: FittedTerms
  readonly leftOut: readonly LeftOut[]
  /** The fit with the most terms that has a covariance: what those left out later may have been. */
  readonly fullest: FittedTerms
}

/** Standard uncertainty of a logarithm beyond which the data do not tell the quantity. */
const UNTOLD = 0.5
/** A bend sharper than this share of the largest current cannot be told from a jump. */
const SHARPEST = 2e-3
/**
 * Air drag is in every motor. Where the residuals are no noise its variance is inflated and it seldom
 * stands out, yet leaving it out would push its share into the other frictions.
 */
const LENIENT_PRICE = 0.25
/** In units of ln n. */
const PRICE = 2

/**
 * Leaves out, one after the other, what the data do not tell or what does not earn its place. A term
 * stays where its square over its variance, residual correlation allowed for, exceeds 2 ln n: twice the
 * price of the Bayesian information criterion, since a term kept by chance spoils its neighbours' values,
 * while what a term left out may do is added to their uncertainties. What `kept` names stays in any case.
 * Several terms go on the strength of one fit, its optimum moved along the quadratic; then what is left
 * is fitted and looked at again. Where a disturbance amid which terms were judged turns out not to be there,
 * those that went are judged once more without it.
 * Source: G. Schwarz, Estimating the dimension of a model (1978; from memory).
 *
 * @param unasked what goes whatever its evidence, judged once with it and left out from then on
 */
export function chooseTerms(
  basis: FitBasis,
  first: FittedTerms,
  kept: ReadonlySet<Coordinate>,
  largestAmp: number,
  onStep: (text: string) => void,
  unasked: readonly Coordinate[] = [],
): ChosenTerms {
  let fit = first
  let fullest = first
  let searched = true
  let leftOut: LeftOut[] = []
  let judgedAmid = basis.members.map(({ noise }) => noise)
  for (;;) {
    const gone = weakTerms(fit, kept, largestAmp, unasked)
    // The noise beside terms that have gone is not quite the noise beside those that stay.
    if (gone.length === 0 && searched) {
      const levels = basis.members.map(({ noise }) => noise)
      const isQuieter = levels.some((noise, r) => hasLostDisturbance(judgedAmid[r]!, noise))
      const unheard = isQuieter ? leftOut.filter(deservesHearing) : []
      if (unheard.length === 0) return { fit, leftOut, fullest }
      const wider = fitWith(unheard, basis, fit, first)
      if (wider.covariance === null) return { fit, leftOut, fullest }
      judgedAmid = levels
      leftOut = leftOut.filter(term => !unheard.includes(term))
      fit = wider
      fullest = wider
      continue
    }
    leftOut.push(...gone)
    if (gone.length > 0) onStep(`without ${gone.map(({ coordinate }) => coordinate).join(', ')}`)
    const names = new Set(gone.map(({ coordinate }) => coordinate))
    // A drop that is nil has no bend.
    if (names.has('brushDrop')) names.add('lnKnee')
    const coordinates = fit.terms.coordinates.filter(c => !names.has(c))
    const { point } = fit.minimum
    const motor = gone.reduce(withoutTerm, point.motor)
    const terms = { ...fit.terms, coordinates }
    searched =
      gone.length === 0 ||
      gone.some(({ coordinate, because }) => coordinate.startsWith('ln') || because === 'not-asked')
    const next = fitNearby(basis, terms, { ...point, motor }, fit.model.offsetVariance, searched)
    if (!next.minimum.usable) return { fit: next, leftOut, fullest }
    fit = next
    if (fullest.covariance === null) fullest = fit
  }
}

/** The fit with terms that had gone, amid the noise as it is now. */
function fitWith(
  terms: readonly LeftOut[],
  basis: FitBasis,
  fit: FittedTerms,
  first: FittedTerms,
): FittedTerms {
  const all = new Set([...fit.terms.coordinates, ...terms.map(({ coordinate }) => coordinate)])
  const coordinates = first.terms.coordinates.filter(c => all.has(c))
  const { point } = fit.minimum
  return fitNearby(basis, { ...fit.terms, coordinates }, point, fit.model.offsetVariance, false)
}

const deservesHearing = ({ coordinate, because }: LeftOut) =>
  because === 'no-evidence' && !coordinate.startsWith('ln')

/** Weak terms, the weakest first, each judged as if those before it were gone already. */
function weakTerms(
  fit: FittedTerms,
  kept: ReadonlySet<Coordinate>,
  largestAmp: number,
  unasked: readonly Coordinate[],
): LeftOut[] {
  const gone: LeftOut[] = []
  if (fit.covariance === null) return blindTerm(fit, kept)
  let left: Judged | null = judge(fit)
  for (const coordinate of unasked.filter(c => fit.terms.coordinates.includes(c))) {
    gone.push({ coordinate, because: 'not-asked' })
    left = conditioned(left, coordinate)
  }
  while (left !== null) {
    const weakest = weakestTerm(left, kept, largestAmp)
    if (weakest === null) return gone
    gone.push(weakest)
    // A bend or an untold logarithm is no small step along the quadratic: fit before judging on.
    left = weakest.coordinate.startsWith('ln') ? null : conditioned(left, weakest.coordinate)
  }
  return gone
}

/** A fit's optimum and covariance as its quadratic gives them with some terms at nil. */
interface Judged {
  readonly fit: FittedTerms
  readonly coordinates: readonly Coordinate[]
  readonly matrix: readonly (readonly number[])[]
  readonly values: readonly number[]
}

export function judge(fit: FittedTerms): Judged {
  const { coordinates } = fit.terms
  const { motor } = fit.minimum.point
  const values = coordinates.map(c => coordinateValue(motor, c))
  return { fit, coordinates, matrix: fit.covariance!.matrix, values }
}

/** θ − C₍ⱼ₎ θⱼ / Cⱼⱼ and C − C₍ⱼ₎ C₍ⱼ₎ᵀ / Cⱼⱼ, without coordinate j. */
export function conditioned(judged: Judged, coordinate: Coordinate): Judged {
  const { fit, coordinates, matrix, values } = judged
  const j = coordinates.indexOf(coordinate)
  const others = coordinates.map((_, l) => l).filter(l => l !== j)
  const gain = others.map(l => matrix[l]![j]! / matrix[j]![j]!)
  return {
    fit,
    coordinates: others.map(l => coordinates[l]!),
    matrix: others.map((l, a) => others.map(m => matrix[l]![m]! - gain[a]! * matrix[j]![m]!)),
    values: others.map((l, a) => values[l]! - gain[a]! * values[j]!),
  }
}

/** Some direction is wholly open: what has no information goes, else the least usual term. */
function blindTerm(fit: FittedTerms, kept: ReadonlySet<Coordinate>): LeftOut[] {
  const { coordinates } = fit.terms
  const blind = coordinates.find(c => !informs(fit, c))
  const coordinate = blind ?? OPTIONAL.find(c => coordinates.includes(c) && !kept.has(c))
  return coordinate === undefined ? [] : [{ coordinate, because: 'not-told' }]
}

function weakestTerm(
  { fit, coordinates, matrix, values }: Judged,
  kept: ReadonlySet<Coordinate>,
  largestAmp: number,
): LeftOut | null {
  const uncertainty = (c: Coordinate) => {
    const j = coordinates.indexOf(c)
    return Math.sqrt(matrix[j]![j]!)
  }
  // Misfit is no reason: what it does to an uncertainty may come from terms that go later.
  const untold = coordinates.find(
    c => c.startsWith('ln') && c !== 'lnKnee' && !kept.has(c) && noiseOf(fit, c) > UNTOLD,
  )
  if (untold !== undefined) return { coordinate: untold, because: 'not-told' }
  const optional = OPTIONAL.filter(c => coordinates.includes(c) && !kept.has(c))
  const strict = PRICE * Math.log(fit.minimum.sums.readings)
  const knee = fit.minimum.point.motor.brushKneeAmp
  let weakest: { coordinate: Coordinate; worth: number } | null = null
  for (const coordinate of optional) {
    const lenient = coordinate === 'windage' && fit.covariance!.misfit
    const price = lenient ? LENIENT_PRICE : strict
    const worth =
      coordinate === 'lnKnee'
        ? worthOfBend(knee, uncertainty(coordinate), largestAmp, price)
        : coordinate === 'brushDrop' && optional.includes('lnKnee')
          ? Number.POSITIVE_INFINITY
          : (values[coordinates.indexOf(coordinate)]! / uncertainty(coordinate)) ** 2
    if (worth < price && (weakest === null || worth < weakest.worth)) {
      weakest = { coordinate, worth }
    }
  }
  return weakest === null ? null : { coordinate: weakest.coordinate, because: 'no-evidence' }
}

/** A bend is told where its current is known to better than a third and is no jump. */
function worthOfBend(knee: number, uncertainty: number, largestAmp: number, price: number): number {
  if (knee < SHARPEST * largestAmp) return 0
  return (price * 0.1) / uncertainty ** 2
}

function noiseOf({ terms, covariance }: FittedTerms, coordinate: Coordinate): number {
  const j = terms.coordinates.indexOf(coordinate)
  return Math.sqrt(covariance!.white[j]![j]!)
}

function informs(fit: FittedTerms, coordinate: Coordinate): boolean {
  const j = fit.terms.coordinates.indexOf(coordinate)
  return fit.minimum.sums.information[(j * (j + 3)) / 2]! > 0
}

function withoutTerm(motor: ModelPoint, { coordinate, because }: LeftOut): ModelPoint {
  if (because === 'not-told' && coordinate.startsWith('ln') && coordinate !== 'lnKnee') return motor
  switch (coordinate) {
    case 'lnKnee':
      return { ...motor, brushKneeAmp: 0 }
    case 'brushDrop':
      return { ...motor, brushDropVolt: 0, brushKneeAmp: 0 }
    case 'windage':
      return { ...motor, windageNms2PerRad2: 0 }
    case 'offset':
      return { ...motor, offsetTorqueNm: 0 }
    case 'viscousDifference':
      return { ...motor, viscousDifferenceNmsPerRad: 0 }
    case 'heating':
      return { ...motor, heatingPerA2s: 0 }
    default:
      return motor
  }
}
