import { meanSpeed } from './mean-speed.ts'
import { usualRippleCounts } from './ripple-settings.ts'
import type { RippleTrack } from './track-ripple.ts'

/** One count of ripples a turn, the commutators that have it, and the back-EMF constant that it would mean. */
export interface TurnCandidate {
  readonly ripplesPerTurn: number
  readonly commutators: readonly { readonly segments: number; readonly polePairs: number }[]
  /** Null where no voltage was recorded. */
  readonly backEmfConstantVsPerRad: number | null
  /** Speed at the usual level of the record. */
  readonly radPerSec: number
  /** ln likelihood of the record's lines under this count, less that of the best one; null where it was not tried. */
  readonly logLikelihood: number | null
}

/** What would tell the count, in the words of the bench; each is enough by itself. */
export const WHAT_DECIDES = [
  'count the segments of the commutator through the vent, and the poles',
  'one mark on the shaft seen by an optical pickup, two passes or more',
  'one reading of a tachometer or a stroboscope while the speed stands',
  'turn the shaft once by hand at a small current and count the ripples of the voltage',
] as const

/**
 * The counts that usual commutators have, the likeliest first. The lines of unevenness may favour one; they never
 * settle it, since a commutator may be even enough to show none.
 */
export function turnCandidates(track: RippleTrack): TurnCandidate[] {
  const { comb } = track
  const commutation = comb.ripplesPerTurn * comb.turnsPerVoltSec
  const level = comb.levels[0]!
  const commutationHz = level.turnsPerSec * comb.ripplesPerTurn
  const scores = new Map<number, number>()
  for (const candidate of comb.candidates) {
    const own = candidate.comb.ripplesPerTurn * candidate.turnsPerVoltSec
    if (Math.abs(own / commutation - 1) > SAME_COMMUTATION) continue
    const n = candidate.comb.ripplesPerTurn
    scores.set(n, Math.max(scores.get(n) ?? Number.NEGATIVE_INFINITY, candidate.total))
  }
  const best = Math.max(...scores.values())
  const byCount = new Map<number, { segments: number; polePairs: number }[]>()
  for (const { ripplesPerTurn, segments, polePairs } of usualRippleCounts()) {
    byCount.set(ripplesPerTurn, [...(byCount.get(ripplesPerTurn) ?? []), { segments, polePairs }])
  }
  return [...byCount]
    .map(([ripplesPerTurn, commutators]): TurnCandidate => {
      const score = scores.get(ripplesPerTurn)
      return {
        ripplesPerTurn,
        commutators,
        backEmfConstantVsPerRad: track.directionKnown
          ? ripplesPerTurn / (2 * Math.PI * commutation)
          : null,
        radPerSec: (2 * Math.PI * commutationHz) / ripplesPerTurn,
        logLikelihood: score === undefined ? null : score - best,
      }
    })
    .sort(
      (a, b) =>
        (b.logLikelihood ?? Number.NEGATIVE_INFINITY) -
          (a.logLikelihood ?? Number.NEGATIVE_INFINITY) || a.ripplesPerTurn - b.ripplesPerTurn,
    )
}

const SAME_COMMUTATION = 0.02

/** Commutations a second over a time; null where the ripple was not followed. */
export function commutationRate(track: RippleTrack, fromSec: number, toSec: number): number | null {
  const speed = meanSpeed(track, fromSec, toSec)
  return speed && (Math.abs(speed.radPerSec) * track.comb.ripplesPerTurn) / (2 * Math.PI)
}
