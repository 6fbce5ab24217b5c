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
  /** … one at three times the rate: strong unevenness of three coils, or of groups of them, stands at a third of the commutation. */
  readonly marginOverTriple: number
  /** … one at a whole multiple or part of the rate whose own line the switching covers: that it is not seen tells nothing. */
  readonly marginOverCovered: number
  /** … and the next best, or foreign lines alone, where no second level bears it out since others are too short to show it, … */
  readonly marginUnborne: number
  /** … or where neither its first nor its second line is seen. */
  readonly marginUnseen: number
}

function row(
  total: number,
  margin: number,
  marginOverLower: number,
  marginOverTriple: number,
  marginOverCovered: number,
  marginUnborne: number,
  marginUnseen: number,
): Least {
  return {
    total,
    margin,
    marginOverLower,
    marginOverTriple,
    marginOverCovered,
    marginUnborne,
    marginUnseen,
  }
}

/** Set on seeded cases: by what is known. */
const LEADS = {
  nothing: row(6, 5, 7, 5, 9, 25, 25),
  /** What stands out beside the switching is added in part, and rates of all sizes are rivals. */
  count: row(11, 4, 8, 7.5, 9, 15, 6),
  /**
   * A rough constant leaves a narrow range, into which a line that has nothing to do with the commutation falls more seldom; but
   * the rival is then no octave but some other line near by, and of those there are more than the likelihood counts.
   */
  constant: row(2.5, 6, 6, 6, 6, 0, 25),
  /** With what stands out beside the switching added, noise alone gathers more. */
  countAndConstant: row(8, 4.5, 4.5, 4.5, 4.5, 0, 0),
  /**
   * For levels whose speeds, too, were told by lines: the course that suits them best gathers more by chance, and so do what is
   * left of the switching and a switching that nobody stated …
   */
  currentAlone: row(11, 9, 9.5, 9, 9, 25, 25),
  /** … but not where it is said that nothing switches. */
  unswitchedCurrent: row(11, 6.5, 8, 7.5, 9, 25, 25),
} as const satisfies Readonly<Record<string, Least>>

/** For a window of a current without a voltage, which no other speed bears out. */
export const LEAST_ALONE: Least = row(9, 8, 10.5, 8, 8, 0, 0)

export function leastOf(settings: RippleSettings, emfFrom: EmfCourse['emfFrom']): Least {
  if (emfFrom === 'lines') {
    return settings.switchingHz === 0 ? LEADS.unswitchedCurrent : LEADS.currentAlone
  }
  if (isLocated(settings)) return LEADS.countAndConstant
  if (settings.backEmfConstant !== null) return LEADS.constant
  return settings.ripplesPerTurn === null ? LEADS.nothing : LEADS.count
}

/** Explanations within this ratio are the same one. */
const SAME_SHARE = 0.06

const isAt = (rate: number, other: number) => Math.abs(rate / other - 1) <= SAME_SHARE

const MOST_TIMES = 6
/** The rates of two explanations of the same lines are in a whole ratio within this share. */
const WHOLE_SHARE = 0.012

const isTimes = (ratio: number, whole: number) => Math.abs(ratio / whole - 1) < WHOLE_SHARE

function isWhole(ratio: number): boolean {
  const whole = Math.round(ratio)
  return whole > 1 && whole <= MOST_TIMES && isTimes(ratio, whole)
}

const isCovered = ({ levels }: CombCandidate) =>
  levels.some(({ fit }) => fit !== null && fit.lines[0]!.isCovered)

/** By how much the best explanation must lead another one. */
function leadNeeded(best: CombCandidate, other: CombCandidate, least: Least): number {
  const ratio = commutationOf(best) / commutationOf(other)
  if (isCovered(other) && isWhole(Math.max(ratio, 1 / ratio))) return least.marginOverCovered
  if (isTimes(ratio, 2) || isTimes(ratio, 4)) return Math.max(least.margin, least.marginOverLower)
  return isTimes(1 / ratio, 3) ? least.marginOverTriple : least.margin
}

/**
 * All lines of one at a whole multiple of the rate belong to the lower comb as well, which is asked for its first ones only: what the
 * other has more beside the switching tells nothing against it.
 */
function sharedWith(best: CombCandidate, other: CombCandidate): number {
  const isMultiple = isWhole(commutationOf(other) / commutationOf(best))
  // One whose own line is not seen has no claim on the other's.
  const [own] = best.levels[0]!.fit?.lines ?? []
  const isSeen = own !== undefined && own.peak !== null
  return isMultiple && isSeen ? Math.max(0, other.evidence - best.evidence) : 0
}

/** By how much the best explanation leads the next one, or foreign lines alone, and one that it does not lead far enough. */
export function leadOf(
  best: CombCandidate,
  found: readonly CombCandidate[],
  least: Least,
): { rival: CombCandidate | null; margin: number } {
  const others = found.filter(other => !isAt(commutationOf(other), commutationOf(best)))
  const rival = others.find(
    other => best.total + sharedWith(best, other) - other.total < leadNeeded(best, other, least),
  )
  return { rival: rival ?? null, margin: best.total - Math.max(0, others[0]?.total ?? 0) }
}
