/** What is to be minimised, and how one step of it is found. `State` is what an evaluation leaves behind. */
export interface Descent<Point, State extends { readonly cost: number }> {
  /** Cost (a sum of squares) and whatever its steps need. */
  evaluate(point: Point): State
  /** The step under a damping, dimensionless; null where its equations cannot be solved. */
  dampedStep(point: Point, state: State, damping: number): DampedStep | null
  move(point: Point, state: State, step: Float64Array): Point
}

export interface DampedStep {
  readonly step: Float64Array
  /** By how much the linearised model says that the cost falls. */
  readonly gain: number
}

export interface DescentOptions {
  readonly maxPasses: number
  /** Stops where the next step is expected to lower the cost by less. */
  readonly expectedGain: number
  /** The same as a share of the cost, for costs without a natural unit. */
  readonly expectedShare: number
  readonly firstDamping: number
  /** Below this the damping is nil; left out: LEAST_DAMPING. */
  readonly leastDamping?: number
  /** A step that raises the cost by less than this, and by little of what it was to gain, is no failure. */
  readonly slack: number
}

export const TERMINATIONS = {
  converged: { converged: true, text: 'converged: the next step would change nothing that counts' },
  'no-descent': { converged: true, text: 'no further descent is possible in double precision' },
  'pass-limit': { converged: false, text: 'stopped at the limit of passes' },
  cancelled: { converged: false, text: 'cancelled' },
  'non-finite': { converged: false, text: 'the model has no finite cost at its start values' },
} as const

export type Termination = keyof typeof TERMINATIONS

export interface DescentEnd<Point, State> {
  readonly point: Point
  readonly state: State
  readonly termination: Termination
  readonly passes: number
}

/** Enough where no valley is narrower than what normal equations resolve. */
const LEAST_DAMPING = 1e-8
/** Share of the expected gain that a step may lose where there is slack. */
const SLACK_SHARE = 0.1

/**
 * Levenberg–Marquardt: damped Gauss–Newton steps, the damping tenfold after a failure and a tenth after a
 * success. A point without a finite cost is a failed step; at the start it is the end.
 * Source: D. W. Marquardt, J. SIAM 11 (1963) 431 (from memory); checked in test/numerics.
 */
export function descend<Point, State extends { readonly cost: number }>(
  descent: Descent<Point, State>,
  start: Point,
  options: DescentOptions,
  goOn: () => boolean = () => true,
): DescentEnd<Point, State> {
  let point = start
  let state = descent.evaluate(point)
  let passes = 1
  const leastDamping = options.leastDamping ?? LEAST_DAMPING
  let damping = options.firstDamping
  const done = (termination: Termination) => ({ point, state, termination, passes })
  if (!Number.isFinite(state.cost)) return done('non-finite')
  while (passes < options.maxPasses) {
    if (!goOn()) return done('cancelled')
    const damped = descent.dampedStep(point, state, damping)
    if (damped === null) {
      damping = Math.max(10 * damping, 0.1 * leastDamping)
      if (damping > 1e12) return done('no-descent')
      continue
    }
    const { step, gain } = damped
    const least = options.expectedGain + options.expectedShare * state.cost
    const candidate = descent.move(point, state, step)
    const next = descent.evaluate(candidate)
    passes += 1
    const accepted = next.cost <= state.cost + Math.min(options.slack, SLACK_SHARE * gain)
    if (!accepted) {
      if (gain < least) return done('converged')
      damping = Math.max(10 * damping, 100 * leastDamping)
      if (damping > 1e10) return done('no-descent')
      continue
    }
    point = candidate
    state = next
    damping = damping > leastDamping ? damping / 10 : 0
    if (gain < least) return done('converged')
  }
  return done('pass-limit')
}

/**
 * A step with bounds: coordinates at their lower bound that the gradient or the joint step drives below it
 * are held. `solve` finds the step of the others; null where it cannot.
 * @param held coordinates that do not move in any case
 */
export function stepWithin(
  gradient: Float64Array,
  isAtBound: (j: number) => boolean,
  held: ReadonlySet<number>,
  solve: (held: ReadonlySet<number>) => Float64Array | null,
): Float64Array | null {
  const still = new Set(held)
  gradient.forEach((slope, j) => {
    if (slope >= 0 && isAtBound(j)) still.add(j)
  })
  for (;;) {
    const step = solve(still)
    if (step === null) return null
    const leaving = step.findIndex((move, j) => move < 0 && !still.has(j) && isAtBound(j))
    if (leaving < 0) return step
    still.add(leaving)
  }
}

/** |gᵀ step|, the gain of an undamped step that solves N step = −g for half the gradient g. */
export function expectedDecrease(gradient: Float64Array, step: Float64Array): number {
  let linear = 0
  for (let j = 0; j < step.length; j++) linear += gradient[j]! * step[j]!
  return Math.abs(linear)
}
