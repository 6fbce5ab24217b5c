import { DEFAULT_OCTAVE_CHOICES, octaveSpectrum } from '../numerics/spectrum/octave-spectrum.ts'
import { LEAST_ALONE, leadOf } from './comb-lead.ts'
import type { CombSettings } from './comb-settings.ts'
import type { EmfCourse, EmfPiece } from './emf-course.ts'
import { type CombCandidate, findCombs } from './find-comb.ts'
import { fitAt } from './level-fit.ts'
import { listPeaks } from './peaks.ts'
import { carriersOf, removeSwitching } from './pwm-waveform.ts'

/** A moment at which the speed was told by the lines around it alone. */
export interface Anchor {
  readonly sample: number
  readonly turnsPerSec: number
  readonly candidate: CombCandidate
  /** Samples to either side for which it stands. */
  readonly reach: number
}

/** Short chunks follow the speed, longer ones show finer lines: parts of the record that are tried in turn. */
const CHUNKS = [24, 12, 6] as const
const SHORTEST_CHUNK = 512
/** Fewer moments at which the lines alone tell a speed are as many as chance makes. */
const FEWEST_ANCHORS = 6
/** Between neighbouring anchors the speed may change by this factor. */
const LARGEST_CHANGE = 1.3

/**
 * Without a voltage nothing ties one speed to another: the record is cut into chunks, and each must show its own
 * comb beyond doubt. None where too few do.
 */
export function findAnchors(course: EmfCourse, combs: readonly CombSettings[]): Anchor[] {
  const total = samplesIn(course)
  const lengths = CHUNKS.map(chunks => Math.max(SHORTEST_CHUNK, Math.ceil(total / chunks)))
  for (const length of new Set(lengths)) {
    const anchors = anchorsIn(course, combs, length)
    if (anchors.length >= FEWEST_ANCHORS) return anchors
  }
  return []
}

const samplesIn = ({ pieces }: EmfCourse) => pieces.reduce((sum, { raw }) => sum + raw.length, 0)

/** One chunk in so many is asked first: where none of them tells anything, a length is not tried on the rest. */
const PROBED = 4

function anchorsIn(course: EmfCourse, combs: readonly CombSettings[], length: number): Anchor[] {
  const chunks = course.pieces.flatMap(piece => {
    const count = Math.max(0, Math.floor((2 * piece.raw.length) / length) - 1)
    return Array.from({ length: count }, (_, k) => ({ piece, from: k * (length >> 1) }))
  })
  const look = ({ piece, from }: (typeof chunks)[number]) =>
    anchorAt(piece, from, length, course, combs)
  const probes = chunks.filter((_, c) => c % PROBED === 0).map(look)
  if (probes.every(anchor => anchor === null)) return []
  const anchors = chunks.flatMap(
    (chunk, c) => (c % PROBED === 0 ? probes[c / PROBED]! : look(chunk)) ?? [],
  )
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

function anchorAt(
  { raw, start, switching }: EmfPiece,
  from: number,
  length: number,
  course: EmfCourse,
  combs: readonly CombSettings[],
): Anchor | null {
  const { rateHz, apertureSec } = course
  // The chunk is short, but not what was recorded.
  const durationSec = samplesIn(course) / rateHz
  const part = raw.subarray(from, from + length)
  const clean = switching === null ? part : removeSwitching(part, switching)
  const window = switching === null ? 'hann' : 'blackman-harris'
  const spectrum = octaveSpectrum([clean], rateHz, { ...DEFAULT_OCTAVE_CHOICES, window })
  const level = {
    spectrum,
    emfVolt: 1,
    durationSec,
    scale: null,
    lags: true,
    sampling: { rateHz, apertureSec },
    switching,
    carriers: switching === null ? [] : carriersOf(part, switching),
  }
  const found = findCombs([level], combs, { lowest: 0, highest: Number.POSITIVE_INFINITY })
  const [best] = found
  if (best === undefined) return null
  if (best.total < LEAST_ALONE.total || leadOf(best, found, LEAST_ALONE).rival !== null) return null
  // A chunk that could not show an octave below does not speak against it.
  const peaked = { ...level, list: listPeaks(spectrum, switching) }
  if (fitAt(peaked, best.comb, best.turnsPerVoltSec / 2).fit === null) return null
  return {
    sample: start + from + (length >> 1),
    turnsPerSec: best.turnsPerVoltSec,
    candidate: best,
    reach: length >> 1,
  }
}

const isLike = (change: number) => change < LARGEST_CHANGE && change > 1 / LARGEST_CHANGE

/** Turns a sample between anchors that follow each other closely; 0 where nothing tells the speed. */
export function speedBetween(
  anchors: readonly Anchor[],
  start: number,
  length: number,
  rateHz: number,
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
    const { reach } = anchor
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
