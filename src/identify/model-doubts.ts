import { type Coordinate, coordinateSlope } from '../motor/parameters.ts'
import { triangleAt } from '../numerics/symmetric.ts'
import { PARAMETERS } from '../records/parameter.ts'
import { variance } from '../statistics/describe.ts'
import { coverageFactor } from '../statistics/distributions.ts'
import { type ChosenTerms, conditioned, judge } from './choose-terms.ts'
import type { FittedTerms } from './fit-members.ts'
import type { JointRun } from './joint-members.ts'
import { coordinateOf, movedNames } from './joint-outcomes.ts'
import type { SystematicPart } from './type-b.ts'

/**
 * A term found to be more than so many standard deviations may well be there. Counted from less on, intervals hold the truth
 * more often than they say where there is no such term.
 */
const DOUBTFUL = 1.15

/** What a term that was left out may have done to the others. */
export interface DoubtfulTerm extends SystematicPart {
  readonly coordinate: Coordinate
}

/**
 * Terms left out for want of evidence may still be there. Where they were not far from earning their
 * place, or the residuals show that the model is not the whole truth, what each would have done to the
 * others still counts: a coordinate moves by
 * C₍ₗⱼ₎/Cⱼⱼ of what term j was found to be, or of what noise alone would let it be, if that is more.
 * What the runs do not tell at all stayed where the search had it: what it may be counts in full.
 * Brushes drop some voltage in every motor: however little speaks for it, this doubt counts. One run-up at
 * one voltage fits any drop, with R, L, k and J all in proportion to V − V_b.
 * Source: K. P. Burnham, D. R. Anderson, Model Selection and Multimodel Inference (2002), model-averaged
 * variance (from memory).
 */
export function formOfLaws({ fit, leftOut, fullest }: ChosenTerms): DoubtfulTerm[] {
  if (!fit.covariance || fullest.covariance === null) return []
  const { motor } = fit.minimum.point
  const { tied } = fit.terms
  const { white } = fullest.covariance
  let judged = judge(fullest)
  const parts: DoubtfulTerm[] = []
  for (const { coordinate, because } of leftOut) {
    const j = judged.coordinates.indexOf(coordinate)
    const isUntold = because === 'not-told' && coordinate !== 'lnKnee'
    if ((because === 'not-told' || coordinate.startsWith('ln')) && !isUntold) continue
    if (j < 0) continue
    const own = fullest.terms.coordinates.indexOf(coordinate)
    const noise = Math.sqrt(white[own]![own]!)
    const size = isUntold ? noise : Math.max(Math.abs(judged.values[j]!), noise)
    const effects = movedNames(fit).flatMap(name => {
      const owner = coordinateOf(name, tied)
      const l = judged.coordinates.indexOf(owner)
      if (l < 0) return []
      const slope =
        name === 'torqueConstant' ? motor.torqueConstantNmPerA : coordinateSlope(motor, owner)
      return [[name, (judged.matrix[l]![j]! / judged.matrix[j]![j]!) * size * slope] as const]
    })
    const counts = coordinate === 'brushDrop' || fit.covariance.misfit || size > DOUBTFUL * noise
    if (isUntold || (because === 'no-evidence' && counts)) {
      parts.push({
        coordinate,
        source: `${TERM_WORDS[coordinate] ?? coordinate}, ${isUntold ? 'which the runs do not tell' : 'left out for want of evidence'}`,
        effects: Object.fromEntries(effects),
      })
    }
    judged = conditioned(judged, coordinate)
  }
  return parts
}

/** Of an inductance that the samples are too slow for, in its logarithm: a factor of two either way is nothing strange. */
const UNTOLD_INDUCTANCE = Math.LN2

/** Under pulses the inductance says how far the current swings, and the swing what the brushes drop. */
export function untoldInductance(fit: FittedTerms, joint: readonly JointRun[]): DoubtfulTerm[] {
  const j = fit.terms.coordinates.indexOf('lnInductance')
  const swings = joint.some(({ member }) => member.run.switching !== null)
  if (!fit.covariance || j < 0 || !swings) return []
  return [
    {
      coordinate: 'lnInductance',
      source: `${TERM_WORDS.lnInductance}, which the samples are too slow for`,
      effects: effectsOf(fit, j, UNTOLD_INDUCTANCE),
    },
  ]
}

/** What the fit's values move by where one coordinate is another by so much: C₍ₗⱼ₎/Cⱼⱼ of it. */
function effectsOf({ covariance, terms, minimum }: FittedTerms, j: number, size: number) {
  const { white } = covariance!
  const { motor } = minimum.point
  const effects = PARAMETERS.flatMap(name => {
    const owner = coordinateOf(name, terms.tied)
    const l = terms.coordinates.indexOf(owner)
    if (l < 0) return []
    const slope =
      name === 'torqueConstant' ? motor.torqueConstantNmPerA : coordinateSlope(motor, owner)
    return [[name, (white[l]![j]! / white[j]![j]!) * size * slope] as const]
  })
  return Object.fromEntries(effects)
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
export function anglesNotTried(fit: FittedTerms, joint: readonly JointRun[]): SystematicPart[] {
  if (!fit.covariance?.misfit || !fit.terms.coordinates.includes('lnResistance')) return []
  const angles = new Set(joint.map(({ member }) => member.group)).size
  const ohm = fit.minimum.point.motor.resistanceOhm
  const effects = { resistance: (ONE_ANGLE * ohm) / Math.sqrt(angles) }
  return [{ source: `shaft angles beyond the ${angles} seen`, effects }]
}

/** By how much the drop of one shaft angle may differ from the mean, relative, before any angle is seen. Common practice, no source. */
const ONE_DROP = 0.003
/** Weight of that belief, in angles. */
const BELIEF = 1
const LEAST_FREEDOM = 2

/**
 * Held rotors tell the brush drop at their angles, and turning runs take it over at all: how much it differs
 * between the angles seen, and what so few of them leave open, counts in all that it moves. Each angle's own
 * drop is one step from the common one, its resistance free.
 */
export function dropBetweenAngles(fit: FittedTerms, joint: readonly JointRun[]): SystematicPart[] {
  const drop = fit.terms.coordinates.indexOf('brushDrop')
  const ohm = fit.terms.coordinates.indexOf('lnResistance')
  if (!fit.covariance?.misfit || drop < 0 || ohm < 0) return []
  const { motor } = fit.minimum.point
  const locked = new Set(
    joint.flatMap(({ member }) => (member.run.shaft === 'locked' ? [member.group] : [])),
  )
  const shifts = [...locked].flatMap(group => {
    const { gradient, information } = fit.minimum.sums.groups[group]!
    const [rr, rv, vv] = [
      information[triangleAt(ohm, ohm)]!,
      information[triangleAt(Math.max(ohm, drop), Math.min(ohm, drop))]!,
      information[triangleAt(drop, drop)]!,
    ]
    const determinant = rr * vv - rv * rv
    // One level of current tells a drop from a resistance no more than a straight line through one point.
    if (!(determinant > TOLD_APART * rr * vv)) return []
    return [-(rr * gradient[drop]! - rv * gradient[ohm]!) / determinant]
  })
  if (shifts.length === 0) return []
  const own = shifts.length > 1 ? variance(shifts) : 0
  const believed = (ONE_DROP * motor.brushDropVolt) ** 2
  const freedom = shifts.length - 1 + BELIEF
  const spread = Math.sqrt(((shifts.length - 1) * own + BELIEF * believed) / freedom)
  // The scatter of few angles is little known: the factor of t stands in for its degrees of freedom.
  const wide =
    coverageFactor(Math.max(LEAST_FREEDOM, freedom)) / coverageFactor(Number.POSITIVE_INFINITY)
  const volt = (wide * spread) / Math.sqrt(shifts.length)
  return [
    {
      source: `brush drop from angle to angle, ${shifts.length} seen`,
      effects: effectsOf(fit, drop, volt),
    },
  ]
}

const TOLD_APART = 1e-3

const TERM_WORDS: Partial<Record<Coordinate, string>> = {
  windage: 'windage',
  offset: 'offset torque',
  viscousDifference: 'friction that differs by direction',
  heating: 'heating of the winding within a run',
  brushDrop: 'brush drop',
  lnResistance: 'winding resistance',
  lnInductance: 'inductance',
  lnBackEmf: 'back-EMF constant',
  lnTorque: 'torque constant',
  lnInertia: 'inertia',
}
