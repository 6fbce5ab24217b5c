import type { Signal } from '../signals/run-signals.ts'
import type { SteadyLevel } from '../signals/steady-levels.ts'
import { errorsInVariables } from '../statistics/errors-in-variables.ts'

/** Terms of the drag that a motor overcomes, in the order of their coefficients. */
export const DRAG_TERMS = ['coulomb', 'viscous', 'windage', 'offset'] as const
export type DragTerm = (typeof DRAG_TERMS)[number]

/**
 * Drag as the current that overcomes it: i = α sgn(ω) + β ω + γ ω|ω| + o, in A, A s/rad, A s²/rad² and A.
 * Times k_t these are T_c, B, C and T_offset. A term that the data do not show is 0 with no uncertainty.
 */
export interface DragCurrent {
  readonly coefficients: readonly number[]
  readonly covariance: readonly (readonly number[])[]
  readonly terms: readonly DragTerm[]
  readonly degreesOfFreedom: number
  /** Scatter of the levels about the fit beyond their noise. */
  readonly excessAmp: number
  readonly residualAmp: Float64Array
  /** A/(N m), where known load torques differed between the levels; else null. */
  readonly perTorque: { readonly value: number; readonly standardUncertainty: number } | null
}

/** A term of second rank stays when it is this many standard uncertainties above nil. */
const EARNED = { viscous: 2, windage: 3, offset: 3 } as const
/** Fastest over slowest speed from which the speed terms have a lever. */
const LEVER = 1.2

export interface DragOptions {
  /** J/k_t in A s²/rad, to take off what a speed still changing takes. */
  readonly inertiaPerTorqueConstant?: number
  /** Terms to fit whether or not they earn their place. */
  readonly terms?: readonly DragTerm[]
  /** Torque of a known load at each level, opposing positive motion, and what is known of A/(N m). */
  readonly loads?: readonly number[]
  readonly perTorque?: number
}

/** A speed that swings by more than this share of its mean, or drifts by more, is not steady. */
const SWING = 0.1

/** The turning levels that carry a current and a steady speed. */
export function turningLevels(levels: readonly SteadyLevel[], speed: Signal | null): SteadyLevel[] {
  if (!speed) return []
  return levels.filter(level => {
    if (level.kind === 'standstill' || !level.current || !level.speed) return false
    const { value, spread, slopePerSec } = level.speed
    const limit = SWING * Math.abs(value) + 3 * speed.noise
    const drift = level.settled ? Math.abs(slopePerSec) * level.durationSec : 0
    return Math.abs(value) > 0.02 * speed.reach && spread < limit && drift < limit
  })
}

/** Drag from steady levels; null without any turning level. Terms that do not earn their place are left out. */
export function fitDrag(
  levels: readonly SteadyLevel[],
  options: DragOptions = {},
): DragCurrent | null {
  if (levels.length === 0) return null
  let terms = options.terms ?? possibleTerms(levels)
  for (;;) {
    const fit = fitTerms(levels, terms, options)
    if (!fit) {
      if (terms.length === 1) return null
      terms = terms.slice(0, -1)
      continue
    }
    const weakest = options.terms ? undefined : unearned(fit)
    if (!weakest) return fit
    terms = terms.filter(term => term !== weakest)
  }
}

function possibleTerms(levels: readonly SteadyLevel[]): DragTerm[] {
  const speeds = levels.map(level => level.speed!.value)
  const forward = speeds.filter(speed => speed > 0).length
  const bothWays = Math.min(forward, speeds.length - forward) >= 1
  const sizes = speeds.map(Math.abs).sort((a, b) => a - b)
  const distinct = sizes.filter((size, i) => i === 0 || size > 1.02 * sizes[i - 1]!).length
  const lever = sizes[sizes.length - 1]! > LEVER * sizes[0]!
  const terms: DragTerm[] = ['coulomb']
  if (lever && distinct >= 2) terms.push('viscous')
  if (lever && distinct >= 3 && levels.length > 3) terms.push('windage')
  if (bothWays && levels.length > terms.length) terms.push('offset')
  return terms
}

/** The least certain of the terms that may go, windage before viscous drag; none where all have earned it. */
function unearned(fit: DragCurrent): DragTerm | undefined {
  const isNil = (term: 'viscous' | 'windage' | 'offset') => {
    const j = DRAG_TERMS.indexOf(term)
    const value = fit.coefficients[j]!
    const limit = EARNED[term] * Math.sqrt(fit.covariance[j]![j]!)
    return (
      fit.terms.includes(term) && !(term === 'offset' ? Math.abs(value) > limit : value > limit)
    )
  }
  return (['offset', 'windage', 'viscous'] as const).find(isNil)
}

function fitTerms(
  levels: readonly SteadyLevel[],
  terms: readonly DragTerm[],
  options: DragOptions,
): DragCurrent | null {
  const speeds = levels.map(level => level.speed!)
  const columns = terms.map(term => ({
    values: speeds.map(speed => dragShape(term, speed.value)),
    sigmas:
      term === 'viscous' || term === 'windage'
        ? speeds.map(
            speed =>
              speed.standardUncertainty * (term === 'windage' ? 2 * Math.abs(speed.value) : 1),
          )
        : null,
  }))
  const loads = options.loads
  const loadVaries = loads !== undefined && Math.max(...loads) > Math.min(...loads)
  if (loadVaries) columns.push({ values: [...loads], sigmas: null })
  const inertia = options.inertiaPerTorqueConstant ?? 0
  const amps = levels.map(
    (level, i) =>
      level.current!.value -
      inertia * level.speed!.slopePerSec -
      (loadVaries ? 0 : (loads?.[i] ?? 0) * (options.perTorque ?? 0)),
  )
  const fit = errorsInVariables(
    columns,
    amps,
    levels.map(level => level.current!.standardUncertainty),
    { excess: true },
  )
  if (!fit.ok) return null
  const at = (term: DragTerm) => terms.indexOf(term)
  const { coefficients, covariance } = fit.value
  const last = coefficients.length - 1
  return {
    coefficients: DRAG_TERMS.map(term => coefficients[at(term)] ?? 0),
    covariance: DRAG_TERMS.map(a => DRAG_TERMS.map(b => covariance[at(a)]?.[at(b)] ?? 0)),
    terms,
    degreesOfFreedom: fit.value.degreesOfFreedom,
    excessAmp: fit.value.excess,
    residualAmp: fit.value.residuals,
    perTorque: loadVaries
      ? {
          value: coefficients[last]!,
          standardUncertainty: Math.sqrt(covariance[last]![last]!),
        }
      : null,
  }
}

export function dragShape(term: DragTerm, speed: number): number {
  switch (term) {
    case 'coulomb':
      return Math.sign(speed)
    case 'viscous':
      return speed
    case 'windage':
      return speed * Math.abs(speed)
    case 'offset':
      return 1
    default:
      return term satisfies never
  }
}

/** The drag current at a speed. */
export function dragAmp(coefficients: readonly number[], speed: number): number {
  return DRAG_TERMS.reduce((sum, term, j) => sum + coefficients[j]! * dragShape(term, speed), 0)
}
