import { commutationOf } from './comb-refusals.ts'
import type { EmfCourse } from './emf-course.ts'
import type { CombCandidate } from './find-comb.ts'
import { isLocated } from './comb-hypotheses.ts'
import type { RippleSettings } from './ripple-settings.ts'

/** Likelihood over foreign lines alone, from which on a comb counts as seen, and by which it must lead any other one. */
export interface Least {
  readonly total: number
  readonly margin: number
  /**
   * … by which it must lead one an octave or two below: brushes as wide as a segment may take the commutation's first line
   * away, and then its second looks like it.
   */
  readonly marginOverLower: number
  /** … and the next best, or foreign lines alone, where some level is too short to show its commutation and so does not bear it out. */
  readonly marginUnborne: number
}

const LEAST: Least = { total: 6, margin: 5, marginOverLower: 7, marginUnborne: 25 }
/** For a window of a current without a voltage, which no other speed bears out. */
export const LEAST_ALONE: Least = { total: 9, margin: 8, marginOverLower: 10.5, marginUnborne: 0 }
/**
 * For levels whose speeds, too, were told by lines: the course that suits them best gathers more by chance, and so do what is left of
 * the switching and a switching that nobody stated …
 */
const LEAST_BY_LINES: Least = { total: 11, margin: 9, marginOverLower: 9.5, marginUnborne: 25 }
/** … but not where it is said that nothing switches. */
const LEAST_UNSWITCHED: Least = { total: 11, margin: 6.5, marginOverLower: 8, marginUnborne: 25 }
/**
 * A rough constant leaves a narrow range, into which a line that has nothing to do with the commutation falls more seldom; but
 * the rival is then no octave but some other line near by, and of those there are more than the likelihood counts.
 */
const LEAST_WITH_CONSTANT: Least = alike(2.5, 6)
/** With what stands out beside the switching added, noise alone gathers more. */
const LEAST_LOCATED: Least = alike(8, 4.5)
/** That added in part, and rates of all sizes as rivals. */
const LEAST_COUNTED: Least = { total: 9, margin: 5, marginOverLower: 8, marginUnborne: 25 }

/** The same lead over whatever rival. */
function alike(total: number, margin: number): Least {
  return { total, margin, marginOverLower: margin, marginUnborne: 0 }
}

export function leastOf(settings: RippleSettings, emfFrom: EmfCourse['emfFrom']): Least {
  if (emfFrom === 'lines') return settings.switchingHz === 0 ? LEAST_UNSWITCHED : LEAST_BY_LINES
  if (isLocated(settings)) return LEAST_LOCATED
  if (settings.backEmfConstant !== null) return LEAST_WITH_CONSTANT
  return settings.ripplesPerTurn === null ? LEAST : LEAST_COUNTED
}

/** Explanations within this ratio are the same one. */
const SAME_SHARE = 0.06

const isAt = (rate: number, other: number) => Math.abs(rate / other - 1) <= SAME_SHARE

/** By how much the best explanation must lead another one. */
function leadNeeded(best: CombCandidate, other: CombCandidate, least: Least): number {
  const ratio = commutationOf(best) / commutationOf(other)
  const isOctaveAbove = isAt(ratio, 2) || isAt(ratio, 4)
  return isOctaveAbove ? Math.max(least.margin, least.marginOverLower) : least.margin
}

/** By how much the best explanation leads the next one, or foreign lines alone, and one that it does not lead far enough. */
export function leadOf(
  best: CombCandidate,
  found: readonly CombCandidate[],
  least: Least,
): { rival: CombCandidate | null; margin: number } {
  const others = found.filter(other => !isAt(commutationOf(other), commutationOf(best)))
  const rival = others.find(other => best.total - other.total < leadNeeded(best, other, least))
  return { rival: rival ?? null, margin: best.total - Math.max(0, others[0]?.total ?? 0) }
}
