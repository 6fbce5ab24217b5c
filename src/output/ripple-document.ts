import { constantFromRipple, type RippleConstant } from '../ripple/back-emf-constant.ts'
import { torqueRippleShare } from '../ripple/commutation.ts'
import { meanSpeed } from '../ripple/mean-speed.ts'
import type { RunSignals } from '../signals/run-signals.ts'
import type { RippleTrack } from '../ripple/track-ripple.ts'
import { type RippleWarning, trackWarnings } from '../ripple/track-warnings.ts'
import { type TurnCandidate, turnCandidates, WHAT_DECIDES } from '../ripple/turn-candidates.ts'

/** What the ripple of one run tells, `ripple/1`. SI; speeds are null where the ripples a turn are not known. */
export interface RippleDocument {
  readonly schema: 'ripple/1'
  readonly run: number
  readonly ripplesPerTurn: number | null
  /** k in V s/rad; null without a voltage or a count. */
  readonly backEmfConstant: RippleConstant | null
  /** Of an ideal two-pole winding with the segments counted, at constant current, peak to peak over mean; else null. */
  readonly torqueRippleShare: number | null
  readonly margin: number
  readonly stretches: readonly RippleStretch[]
  /** Where the count is not known: what each would mean, and what would decide. */
  readonly candidates: readonly TurnCandidate[]
  readonly whatDecides: readonly string[]
  readonly warnings: readonly RippleWarning[]
}

export interface RippleStretch {
  readonly fromSec: number
  readonly toSec: number
  readonly terminals: 'closed' | 'open'
  readonly commutationHz: number | null
  readonly speedRadPerSec: number | null
  readonly standardUncertainty: number | null
}

/** A stretch is told in pieces of at most this length. */
const PIECE_SEC = 0.25

export function rippleDocument(
  run: number,
  signals: RunSignals,
  track: RippleTrack,
  countKnown: boolean,
  /** Of a two-pole commutator; null where they were not counted. */
  segments: number | null = null,
): RippleDocument {
  const stretches = track.stretches.flatMap(({ start, end, terminals }) => {
    const fromSec = track.firstSec + start / track.rateHz
    const toSec = track.firstSec + end / track.rateHz
    const pieces = Math.max(1, Math.ceil((toSec - fromSec) / PIECE_SEC))
    return Array.from({ length: pieces }, (_, k): RippleStretch => {
      const a = fromSec + ((toSec - fromSec) * k) / pieces
      const b = fromSec + ((toSec - fromSec) * (k + 1)) / pieces
      const speed = meanSpeed(track, a, b)
      return {
        fromSec: a,
        toSec: b,
        terminals,
        commutationHz:
          speed && (Math.abs(speed.radPerSec) * track.comb.ripplesPerTurn) / (2 * Math.PI),
        speedRadPerSec: countKnown ? (speed?.radPerSec ?? null) : null,
        standardUncertainty: countKnown ? (speed?.standardUncertainty ?? null) : null,
      }
    })
  })
  return {
    schema: 'ripple/1',
    run,
    ripplesPerTurn: countKnown ? track.comb.ripplesPerTurn : null,
    backEmfConstant: countKnown ? constantFromRipple(signals, track) : null,
    torqueRippleShare: segments === null ? null : torqueRippleShare(segments),
    margin: track.comb.margin,
    stretches,
    candidates: countKnown ? [] : turnCandidates(track),
    whatDecides: countKnown ? [] : WHAT_DECIDES,
    warnings: trackWarnings(track),
  }
}
