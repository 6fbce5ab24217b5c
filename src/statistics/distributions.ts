import chiSquareCdf from '@stdlib/stats-base-dists-chisquare-cdf'
import chiSquareQuantileOf from '@stdlib/stats-base-dists-chisquare-quantile'
import fCdf from '@stdlib/stats-base-dists-f-cdf'
import fQuantileOf from '@stdlib/stats-base-dists-f-quantile'
import normalCdf from '@stdlib/stats-base-dists-normal-cdf'
import normalQuantileOf from '@stdlib/stats-base-dists-normal-quantile'
import studentCdf from '@stdlib/stats-base-dists-t-cdf'
import studentQuantileOf from '@stdlib/stats-base-dists-t-quantile'

/** Degrees of freedom from which Student's t is taken as normal: the factors differ by less than 1e-8. */
const AS_GOOD_AS_NORMAL = 1e8

export function normalQuantile(probability: number): number {
  return normalQuantileOf(probability, 0, 1)
}

export function normalProbability(z: number): number {
  return normalCdf(z, 0, 1)
}

/** Quantile of Student's t; infinite degrees of freedom give the normal one. */
export function studentQuantile(probability: number, degreesOfFreedom: number): number {
  if (degreesOfFreedom >= AS_GOOD_AS_NORMAL) return normalQuantile(probability)
  return studentQuantileOf(probability, degreesOfFreedom)
}

/** Probability that |t| would be exceeded by chance, both tails. */
export function studentTwoSidedP(t: number, degreesOfFreedom: number): number {
  if (degreesOfFreedom >= AS_GOOD_AS_NORMAL) return 2 * normalProbability(-Math.abs(t))
  return 2 * studentCdf(-Math.abs(t), degreesOfFreedom)
}

/**
 * Factor k of an interval value ± k u that holds a level of confidence (GUM G.3.2).
 * @param level 0.95 for the 95 % interval
 */
export function coverageFactor(degreesOfFreedom: number, level = 0.95): number {
  return studentQuantile((1 + level) / 2, degreesOfFreedom)
}

export function chiSquareQuantile(probability: number, degreesOfFreedom: number): number {
  return chiSquareQuantileOf(probability, degreesOfFreedom)
}

/** Probability that χ² would be exceeded by chance. */
export function chiSquareP(chiSquare: number, degreesOfFreedom: number): number {
  return 1 - chiSquareCdf(chiSquare, degreesOfFreedom)
}

export function fQuantile(probability: number, numerator: number, denominator: number): number {
  return fQuantileOf(probability, numerator, denominator)
}

/** Probability that F would be exceeded by chance. */
export function fP(f: number, numerator: number, denominator: number): number {
  if (!(f > 0)) return 1
  // The lower tail of 1/F keeps its digits where the upper tail of F would be lost against 1.
  return fCdf(1 / f, denominator, numerator)
}
