import { fitCurve } from './curve-fit.ts'
import { DRAG_TERMS, type DragTerm } from './friction.ts'
import type { MomentumData } from './momentum-data.ts'
import { fitMomentum, type MomentumFit } from './momentum-fit.ts'

/**
 * Speed of a shaft left to itself: dω/dt = −(a + b ω + c ω²), ω > 0, which has the closed form
 *   ω(t) = [ω₀ − (a + b ω₀/2) T] / [1 + (c ω₀ + b/2) T]
 * with T = tanh(q t)/q for D = b² − 4ac > 0, tan(q t)/q for D < 0, t for D = 0, q = √|D|/2.
 * a = T_c/J in rad/s², b = B/J in 1/s, c = C/J in 1/rad. Valid until the shaft stops; 0 after.
 * Source: the Riccati equation with constant coefficients; checked in test/analysis/coast-curve.test.ts.
 */
export function coastSpeed(t: number, start: number, a: number, b: number, c: number): number {
  const discriminant = b * b - 4 * a * c
  const q = Math.sqrt(Math.abs(discriminant)) / 2
  const x = q * t
  if (discriminant < 0 && x >= Math.PI / 2) return 0
  const big = x < 1e-6 ? t : (discriminant > 0 ? Math.tanh(x) : Math.tan(x)) / q
  const speed = (start - (a + (b * start) / 2) * big) / (1 + (c * start + b / 2) * big)
  return Math.max(0, speed)
}

/** Decelerations T_c/J, B/J, C/J from coasting, and the start speed of each coast. */
export interface CoastFit {
  readonly deceleration: readonly number[]
  readonly covariance: readonly (readonly number[])[]
  readonly terms: readonly DragTerm[]
  readonly degreesOfFreedom: number
  /** Speed at the start of each coast. */
  readonly startSpeeds: readonly number[]
  readonly residualRadPerSec: number
}

/** A term of second rank stays when it is this many standard uncertainties above nil. */
const EARNED = { viscous: 2, windage: 3 } as const

/**
 * Each coast has a start speed of its own in the closed form, and the work grows with the cube of their number.
 * Gaps cut a coast into dozens: the integral form, which stands for itself, is left at that.
 */
const MOST_COASTS = 12

/**
 * Which terms the coasts show is read from their integral form; the values then come from the closed form, one
 * start speed for each coast. Null where not even the dry friction shows.
 */
export function fitCoast(data: MomentumData): CoastFit | null {
  const integral = chooseTerms(data)
  if (!integral) return null
  return closedForm(data, integral) ?? integral
}

function chooseTerms(data: MomentumData): CoastFit | null {
  let terms: DragTerm[] = ['coulomb', 'viscous', 'windage']
  for (;;) {
    const fit = fitMomentum(data, terms)
    const weak = fit
      ? (['windage', 'viscous'] as const).find(term => terms.includes(term) && !isEarned(fit, term))
      : terms.at(-1)
    if (fit && !weak) return fit.deceleration[0]! > 0 ? withoutGain(fit) : null
    if (terms.length === 1 || !weak) return null
    terms = terms.filter(term => term !== weak)
  }
}

function withoutGain(fit: MomentumFit): CoastFit {
  return { ...fit, covariance: fit.covariance.slice(1).map(row => row.slice(1)) }
}

function isEarned(fit: MomentumFit, term: 'viscous' | 'windage'): boolean {
  const j = DRAG_TERMS.indexOf(term)
  return fit.deceleration[j]! > EARNED[term] * Math.sqrt(fit.covariance[j + 1]![j + 1]!)
}

function closedForm(data: MomentumData, integral: CoastFit): CoastFit | null {
  const coasts = data.stretches.length
  if (coasts > MOST_COASTS) return null
  const places = integral.terms.map(term => DRAG_TERMS.indexOf(term))
  const at = (j: number) => (places.includes(j) ? coasts + places.indexOf(j) : -1)
  const start = [
    ...integral.startSpeeds.map(Math.abs),
    ...places.map(j => integral.deceleration[j]!),
  ]
  const fit = fitCurve(
    p => {
      const [a, b, c] = [p[at(0)] ?? 0, p[at(1)] ?? 0, p[at(2)] ?? 0]
      return data.sinceSec.map((t, i) => coastSpeed(t, p[data.stretch[i]!]!, a, b, c))
    },
    data.speed.map(Math.abs),
    start,
    { lowest: start.map(() => 0) },
  )
  if (!fit) return null
  const squares = fit.residuals.reduce((sum, r) => sum + r * r, 0)
  const places4 = DRAG_TERMS.map((_, j) => at(j))
  return {
    deceleration: places4.map(j => fit.parameters[j] ?? 0),
    covariance: places4.map(j => places4.map(k => fit.covariance[j]?.[k] ?? 0)),
    terms: integral.terms,
    degreesOfFreedom: fit.degreesOfFreedom,
    startSpeeds: fit.parameters.slice(0, coasts),
    residualRadPerSec: Math.sqrt(squares / fit.residuals.length),
  }
}
