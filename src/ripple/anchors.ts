import { DEFAULT_OCTAVE_CHOICES, octaveSpectrum } from '../numerics/spectrum/octave-spectrum.ts'
import type { CombSettings } from './comb-settings.ts'
import type { EmfCourse } from './emf-course.ts'
import { type CombCandidate, findCombs } from './find-comb.ts'
import { carriersOf, removeSwitching } from './pwm-waveform.ts'

/** A moment at which the speed was told by the lines around it alone. */
export interface Anchor {
  readonly sample: number
  readonly turnsPerSec: number
  readonly candidate: CombCandidate
}

const CHUNKS = 24
const SHORTEST_CHUNK = 512
/** An anchor's comb leads all other explanations by this. */
const ANCHOR_MARGIN = 5
const SAME_SHARE = 0.06
/** Between neighbouring anchors the speed may change by this factor. */
const LARGEST_CHANGE = 1.3

/**
 * Without a voltage nothing ties one speed to another: the record is cut into chunks, and each must show its own
 * comb beyond doubt.
 */
export function findAnchors(
  { pieces, rateHz, apertureSec }: EmfCourse,
  combs: readonly CombSettings[],
): Anchor[] {
  const total = pieces.reduce((sum, { raw }) => sum + raw.length, 0)
  const length = Math.max(SHORTEST_CHUNK, Math.ceil(total / CHUNKS))
  const anchors: Anchor[] = []
  for (const { raw, start, switching } of pieces) {
    for (let from = 0; from + length <= raw.length; from += length >> 1) {
      const part = raw.subarray(from, from + length)
      const clean = switching === null ? part : removeSwitching(part, switching)
      const window = switching === null ? 'hann' : 'blackman-harris'
      const spectrum = octaveSpectrum([clean], rateHz, { ...DEFAULT_OCTAVE_CHOICES, window })
      const level = {
        spectrum,
        emfVolt: 1,
        scale: null,
        lags: true,
        sampling: { rateHz, apertureSec },
        switching,
        carriers: switching === null ? [] : carriersOf(part, switching),
      }
      const found = findCombs([level], combs, { lowest: 0, highest: Number.POSITIVE_INFINITY })
      const [best] = found
      if (best === undefined) continue
      const commutation = best.turnsPerVoltSec * best.comb.ripplesPerTurn
      const rival = found.find(
        other =>
          Math.abs((other.turnsPerVoltSec * other.comb.ripplesPerTurn) / commutation - 1) >
          SAME_SHARE,
      )
      if (best.total - Math.max(0, rival?.total ?? 0) < ANCHOR_MARGIN) continue
      anchors.push({
        sample: start + from + (length >> 1),
        turnsPerSec: best.turnsPerVoltSec,
        candidate: best,
      })
    }
  }
  // While the speed changes, what is left of a smeared comb may look like another one: a neighbour must bear it out.
  return anchors.filter(anchor =>
    anchors.some(
      other =>
        other !== anchor &&
        Math.abs(other.sample - anchor.sample) <= length &&
        isLike(other.turnsPerSec / anchor.turnsPerSec),
    ),
  )
}

const isLike = (change: number) => change < LARGEST_CHANGE && change > 1 / LARGEST_CHANGE

/** Turns a sample between anchors that follow each other closely; 0 where nothing tells the speed. */
export function speedBetween(
  anchors: readonly Anchor[],
  start: number,
  length: number,
  rateHz: number,
  reach: number,
): Float64Array {
  const speed = new Float64Array(length)
  const inside = anchors.filter(({ sample }) => sample >= start && sample < start + length)
  const fill = (from: number, to: number, a: Anchor, b: Anchor) => {
    const span = b.sample - a.sample
    for (let i = Math.max(0, from); i < Math.min(length, to); i++) {
      const share = span > 0 ? Math.min(1, Math.max(0, (start + i - a.sample) / span)) : 0
      speed[i] = (a.turnsPerSec * (b.turnsPerSec / a.turnsPerSec) ** share) / rateHz
    }
  }
  inside.forEach((anchor, k) => {
    const at = anchor.sample - start
    fill(at - reach, at + reach, anchor, anchor)
    const next = inside[k + 1]
    if (next === undefined || next.sample - anchor.sample > 2 * reach) return
    const change = next.turnsPerSec / anchor.turnsPerSec
    if (isLike(change)) {
      fill(at, next.sample - start, anchor, next)
    }
  })
  return speed
}

/** Samples to either side of an anchor for which its chunk stands. */
export function anchorReach(course: EmfCourse): number {
  const total = course.pieces.reduce((sum, { raw }) => sum + raw.length, 0)
  return Math.max(SHORTEST_CHUNK, Math.ceil(total / CHUNKS)) >> 1
}
