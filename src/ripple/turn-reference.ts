import { failure, type Result, success } from '../base/result.ts'
import { meanSpeed } from './mean-speed.ts'
import type { RippleTrack } from './track-ripple.ts'

/**
 * One look at the shaft from outside, which settles how many ripples make a turn:
 * `marks`: moments at which an optical mark passed, at least two, each a whole turn (or `turnsBetween` turns) after the
 * one before; `reading`: a tachometer or a stroboscope over a time in which the speed stood; `hand-turn`: the
 * ripples counted while the shaft was turned once by hand.
 */
export type TurnReference =
  | { readonly kind: 'marks'; readonly timesSec: readonly number[]; readonly turnsBetween?: number }
  | {
      readonly kind: 'reading'
      readonly radPerSec: number
      readonly uncertaintyRadPerSec: number
      readonly fromSec: number
      readonly toSec: number
    }
  | { readonly kind: 'hand-turn'; readonly ripples: number }

export interface CountedRipples {
  readonly ripplesPerTurn: number
  /** The ratio that was found, before it was rounded, with its standard uncertainty. */
  readonly ratio: number
  readonly standardUncertainty: number
}

/** A ratio further than this from a whole number is none. */
const LARGEST_REST = 0.25
/** Or further than so many of its standard uncertainties. */
const LARGEST_SIGMAS = 4
const LEAST_RIPPLES = 2
const MOST_RIPPLES = 1200

/**
 * Commutation rate over rate of turning, as a whole number. The track may have been made with any count: only
 * its commutation rate is used. A stroboscope may show a whole multiple or part of the true speed; then the ratio
 * is not whole, or not one that a commutator has.
 */
export function countRipples(
  track: RippleTrack | null,
  reference: TurnReference,
): Result<CountedRipples, string> {
  if (reference.kind === 'hand-turn') return fromHand(reference.ripples)
  if (track === null) return failure('there is no ripple to compare the reading with')
  const commutations = (fromSec: number, toSec: number) => {
    const speed = meanSpeed(track, fromSec, toSec)
    if (speed === null || speed.toSec - speed.fromSec < 0.8 * (toSec - fromSec)) return null
    const perRad = track.comb.ripplesPerTurn / (2 * Math.PI)
    return {
      hz: Math.abs(speed.radPerSec) * perRad,
      relative: speed.standardUncertainty / Math.abs(speed.radPerSec),
    }
  }
  if (reference.kind === 'reading') {
    const { radPerSec, uncertaintyRadPerSec, fromSec, toSec } = reference
    if (!(Math.abs(radPerSec) > 0)) {
      return failure(`the reading is ${radPerSec} rad/s; it must be that of a turning shaft`)
    }
    const rate = commutations(fromSec, toSec)
    if (rate === null) return failure('no ripple was followed while the reading was taken')
    const ratio = (2 * Math.PI * rate.hz) / Math.abs(radPerSec)
    return whole(ratio, ratio * Math.hypot(rate.relative, uncertaintyRadPerSec / radPerSec))
  }
  const { timesSec, turnsBetween = 1 } = reference
  const first = timesSec[0]
  const last = timesSec.at(-1)
  if (first === undefined || last === undefined || !(last > first)) {
    return failure('needs two passes of the mark, at rising times')
  }
  const rate = commutations(first, last)
  if (rate === null) return failure('no ripple was followed between the passes of the mark')
  const turns = (timesSec.length - 1) * turnsBetween
  const ratio = (rate.hz * (last - first)) / turns
  return whole(ratio, ratio * rate.relative)
}

function fromHand(ripples: number): Result<CountedRipples, string> {
  if (!Number.isInteger(ripples) || ripples < LEAST_RIPPLES || ripples > MOST_RIPPLES) {
    return failure(
      `${ripples} ripples in one turn; must be a whole number from ${LEAST_RIPPLES} to ${MOST_RIPPLES}`,
    )
  }
  return success({ ripplesPerTurn: ripples, ratio: ripples, standardUncertainty: 0 })
}

function whole(ratio: number, standardUncertainty: number): Result<CountedRipples, string> {
  const ripplesPerTurn = Math.round(ratio)
  const rest = Math.abs(ratio - ripplesPerTurn)
  if (ripplesPerTurn < LEAST_RIPPLES || ripplesPerTurn > MOST_RIPPLES) {
    return failure(`${ratio.toPrecision(4)} ripples a turn is no commutator's count`)
  }
  if (standardUncertainty > LARGEST_REST) {
    return failure(
      `${ratio.toPrecision(4)} ± ${standardUncertainty.toPrecision(2)} ripples a turn leaves several whole numbers open: read the speed more exactly`,
    )
  }
  if (rest > Math.min(LARGEST_REST, Math.max(0.05, LARGEST_SIGMAS * standardUncertainty))) {
    return failure(
      `${ratio.toPrecision(4)} ripples a turn is no whole number: the reading and the ripple do not belong together (a stroboscope may show a multiple of the speed)`,
    )
  }
  return success({ ripplesPerTurn, ratio, standardUncertainty })
}
