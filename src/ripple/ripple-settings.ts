import { failure, type Result, success } from '../base/result.ts'
import { ripplesPerTurn } from './commutation.ts'

/** A quantity known from elsewhere, with its standard uncertainty. */
export interface RoughValue {
  readonly value: number
  readonly standardUncertainty: number
}

/**
 * What is known of the motor before its ripple is read. Nothing of it is needed; each item rules out mistakes or
 * sharpens the result.
 */
export interface RippleSettings {
  /** Commutations a turn; null where not known: then there are candidates, and no speed. */
  readonly ripplesPerTurn: number | null
  readonly polePairs: number
  /** Winding and brushes, roughly; null: judged from the smallest ratio of voltage to current. */
  readonly resistanceOhm: number | null
  /** With the resistance, how much the current's ripple lags behind the back-EMF's. */
  readonly inductanceHenry: number | null
  readonly brushDropVolt: number
  /** From a name plate, or from a first reading of a tachometer. */
  readonly backEmfConstant: RoughValue | null
  /**
   * Switching frequency of the bridge, used where no voltage shows it (the current's own line puts it right); 0: nothing
   * switches; null: not known.
   */
  readonly switchingHz: number | null
}

export const UNKNOWN_MOTOR: RippleSettings = {
  ripplesPerTurn: null,
  polePairs: 1,
  resistanceOhm: null,
  inductanceHenry: null,
  brushDropVolt: 0,
  backEmfConstant: null,
  switchingHz: null,
}

/** Commutators have at least two segments; more than this many were never counted on a motor of this size. */
export const SEGMENT_BOUNDS = { least: 2, most: 200 } as const

/** One line that says what is wrong with a count of segments and pole pairs; null where nothing is. */
export function findCountFault(segments: number, polePairs: number): string | null {
  const { least, most } = SEGMENT_BOUNDS
  if (!(Number.isInteger(segments) && segments >= least && segments <= most)) {
    return `segments = ${segments}; must be a whole number from ${least} to ${most}`
  }
  if (!(Number.isInteger(polePairs) && polePairs >= 1 && 2 * polePairs <= segments)) {
    return `pole pairs = ${polePairs}; must be a whole number from 1 to ${Math.floor(segments / 2)} for ${segments} segments`
  }
  return null
}

/** Settings for a commutator whose segments were counted, or what is wrong with the count. */
export function settingsForCommutator(
  segments: number,
  polePairs: number,
  known: Partial<RippleSettings> = {},
): Result<RippleSettings, string> {
  const wrong = findCountFault(segments, polePairs)
  if (wrong !== null) return failure(wrong)
  return success({
    ...UNKNOWN_MOTOR,
    ...known,
    polePairs,
    ripplesPerTurn: ripplesPerTurn(segments, polePairs),
  })
}

/** Counts of ripples a turn that commutators of 3 to 24 segments and up to three pole pairs have, without repeats. */
export function usualRippleCounts(): {
  ripplesPerTurn: number
  polePairs: number
  segments: number
}[] {
  const counts: { ripplesPerTurn: number; polePairs: number; segments: number }[] = []
  for (const polePairs of [1, 2, 3]) {
    for (let segments = Math.max(3, 2 * polePairs + 1); segments <= 24; segments++) {
      const n = ripplesPerTurn(segments, polePairs)
      counts.push({ ripplesPerTurn: n, polePairs, segments })
    }
  }
  return counts
}
