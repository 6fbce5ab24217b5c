/**
 * The law of propagation of uncertainty (GUM 5.2.2): u²(y) = Σ Σ (∂f/∂xⱼ)(∂f/∂xₖ) cov(xⱼ, xₖ).
 * The slopes are taken as [f(x + u) − f(x − u)]/2u over one standard uncertainty (GUM 5.1.3, note 2); an
 * input without uncertainty contributes nothing.
 */
export interface Propagated {
  readonly value: number
  readonly standardUncertainty: number
  /** ∂f/∂xⱼ u(xⱼ): what each input alone contributes, sign kept. */
  readonly contributions: readonly number[]
}

type Matrix = readonly (readonly number[])[]

export function propagate(
  f: (x: readonly number[]) => number,
  x: readonly number[],
  covariance: Matrix,
): Propagated {
  const slopes = gradient(f, x, covariance)
  return {
    value: f(x),
    standardUncertainty: Math.sqrt(Math.max(0, quadraticForm(slopes, covariance, slopes))),
    contributions: slopes.map((slope, j) => slope * Math.sqrt(covariance[j]![j]!)),
  }
}

/** Covariance between two results of the same inputs. */
export function propagatedCovariance(
  f: (x: readonly number[]) => number,
  g: (x: readonly number[]) => number,
  x: readonly number[],
  covariance: Matrix,
): number {
  return quadraticForm(gradient(f, x, covariance), covariance, gradient(g, x, covariance))
}

export interface UncertaintyPart {
  readonly standardUncertainty: number
  readonly degreesOfFreedom: number
}

/** Welch–Satterthwaite (GUM G.4.1): effective degrees of freedom of a sum of independent parts. */
export function effectiveDegreesOfFreedom(parts: readonly UncertaintyPart[]): number {
  const squares = parts.reduce((sum, part) => sum + part.standardUncertainty ** 2, 0)
  const quartic = parts.reduce(
    (sum, part) => sum + part.standardUncertainty ** 4 / part.degreesOfFreedom,
    0,
  )
  return quartic > 0 ? squares ** 2 / quartic : Number.POSITIVE_INFINITY
}

function gradient(
  f: (x: readonly number[]) => number,
  x: readonly number[],
  covariance: Matrix,
): number[] {
  return x.map((value, j) => {
    const step = Math.sqrt(covariance[j]![j]!)
    // A number that is certain adds nothing, and f need not even be defined beside it (a coefficient that is nil).
    if (step === 0) return 0
    return (f(x.with(j, value + step)) - f(x.with(j, value - step))) / (2 * step)
  })
}

function quadraticForm(left: readonly number[], matrix: Matrix, right: readonly number[]): number {
  let sum = 0
  for (const [j, a] of left.entries()) {
    for (const [k, b] of right.entries()) sum += a * b * matrix[j]![k]!
  }
  return sum
}
