import { quantileOf, whiteNoise } from '../statistics/robust.ts'
import type { EmfCourse } from './emf-course.ts'
import {
  joinedAcrossNoise,
  SHORTEST_SEGMENT,
  type Stretch,
  stretchesNear,
} from './level-stretches.ts'
import { runningMean } from './running-mean.ts'
import { settlingOf, straightened } from './settling.ts'
import { type Carrier, carriersOf, removeSwitching, type Switching } from './pwm-waveform.ts'

/** Stretches of ripple, evenly sampled in time, during which the back-EMF stayed within about one per cent. */
export interface SpeedLevel {
  readonly segments: readonly Float64Array[]
  /** Where they stand in the run. */
  readonly spans: readonly SampleSpan[]
  /** Samples in all. */
  readonly length: number
  /** Magnitude of the back-EMF. */
  readonly emfVolt: number
  readonly switching: Switching | null
  /** The largest share by which a stretch was straightened; what was left of the switching moved with it. */
  readonly straightenedBy: number
  readonly carriers: readonly Carrier[]
  /** What most of it was read at. */
  readonly terminals: 'closed' | 'open'
}

/** Samples of a run, `end` exclusive. */
export interface SampleSpan {
  readonly start: number
  readonly end: number
}

const BINS_PER_NEPER = 250
const LEAST_HALF_WIDTH = 2
const MOST_HALF_WIDTH = 10
/** Bins between the middles of two levels: about 10 %. */
const APART = 25
const MOST_LEVELS = 4
const LEAST_EMF_SHARE = 0.04
/** The running mean of the back-EMF is taken over this part of all samples to either side … */
const SMOOTHING = 150
/** … or more, until its noise is below this share of the largest; but no more than this part. */
const WANTED_NOISE = 0.0025
const MOST_SMOOTHING = 16
const SHORTEST_LEVEL = 256
/** Levels that hold less than this share of the longest one add little. */
const LEAST_SHARE = 0.05
/** The running mean wanders: only a longer excursion out of the level ends a stretch. */
const EXCURSION = 3
/** Current that differs round a turn puts the back-EMF wrong by so much, which cuts no level. */
const JOINED_SHARE = 0.03
const PROBES = 4000

/**
 * The levels of speed at which a record dwells, the longest first: the fullest places of the histogram of ln(back-EMF).
 * Lines of the shaft stand at frequencies in proportion to the back-EMF; lines of hum and switching do not.
 */
export function speedLevels(course: EmfCourse): SpeedLevel[] {
  const { pieces } = course
  const total = pieces.reduce((sum, { ripple }) => sum + ripple.length, 0)
  const reach = quantileOf(
    pieces.flatMap(piece => thinned(piece.emf!).map(Math.abs)),
    0.98,
  )
  const { half, noise } = smoothingOf(course, total, reach)
  const smooth = pieces.map(({ emf }) => runningMean(emf!, half))
  const bins = smooth.map(emf => binsOf(emf, reach))
  const halfWidth = Math.min(
    MOST_HALF_WIDTH,
    Math.max(LEAST_HALF_WIDTH, Math.ceil(((3 * noise) / reach) * BINS_PER_NEPER)),
  )
  const counts = new Map<number, number>()
  for (const of of bins) countBins(counts, of)
  counts.delete(NOWHERE)
  const levels: SpeedLevel[] = []
  while (levels.length < MOST_LEVELS) {
    const centre = fullest(counts, halfWidth)
    if (centre === null) break
    const emfVolt = reach * Math.exp(centre / BINS_PER_NEPER)
    const stretches = bins.map((of, p) => {
      const { emf } = pieces[p]!
      const found = stretchesNear(of, centre, halfWidth, EXCURSION * half)
      return joinedAcrossNoise(
        found,
        emf!,
        emfVolt,
        Math.max(JOINED_SHARE, halfWidth / BINS_PER_NEPER),
      )
    })
    const level = levelOf(course, stretches, emfVolt)
    // Levels close to each other could not tell a line of the shaft from one that is fixed in time.
    for (let bin = centre - APART; bin <= centre + APART; bin++) counts.delete(bin)
    if (level.length < Math.max(SHORTEST_LEVEL, LEAST_SHARE * (levels[0]?.length ?? 0))) break
    levels.push(level)
  }
  return levels
}

/** No place of the histogram. */
const NOWHERE = -0x80000000

/** Places in the histogram of ln(back-EMF). In a plain loop, as all that is done for every sample. */
function binsOf(emf: Float64Array, reach: number): Int32Array {
  const bins = new Int32Array(emf.length)
  for (let i = 0; i < emf.length; i++) {
    const share = Math.abs(emf[i]!) / reach
    bins[i] = share > LEAST_EMF_SHARE ? Math.round(Math.log(share) * BINS_PER_NEPER) : NOWHERE
  }
  return bins
}

/** Neighbours mostly share a bin: one entry for each stretch of the same. */
function countBins(counts: Map<number, number>, bins: Int32Array): void {
  for (let from = 0; from < bins.length; ) {
    const bin = bins[from]!
    let to = from + 1
    while (to < bins.length && bins[to] === bin) to++
    counts.set(bin, (counts.get(bin) ?? 0) + to - from)
    from = to
  }
}

function thinned(values: Float64Array): number[] {
  const stride = Math.max(1, Math.floor(values.length / PROBES))
  return Array.from({ length: Math.ceil(values.length / stride) }, (_, k) => values[k * stride]!)
}

/**
 * Samples to either side over which the back-EMF is averaged, so that its noise does not push it out of a level, and the
 * noise that is left.
 */
function smoothingOf(
  { pieces, blockSamples }: EmfCourse,
  total: number,
  reach: number,
): { half: number; noise: number } {
  const blockNoise = Math.max(
    ...pieces.map(({ emf }) =>
      whiteNoise(
        Float64Array.from(
          { length: Math.floor(emf!.length / blockSamples) },
          (_, b) => emf![Math.floor((b + 0.5) * blockSamples)]!,
        ),
      ),
    ),
  )
  const least = Math.max(SHORTEST_SEGMENT >> 1, Math.round(total / SMOOTHING))
  const wanted = (blockSamples / 2) * (blockNoise / (WANTED_NOISE * reach)) ** 2
  const half = Math.round(Math.max(least, Math.min(total / MOST_SMOOTHING, wanted)))
  return { half, noise: blockNoise * Math.sqrt(Math.min(1, blockSamples / (2 * half))) }
}

/** While the speed stays, so does the switched waveform: it is taken off anew, better than over a whole piece. */
function levelOf(
  { pieces, resistanceOhm }: EmfCourse,
  stretches: readonly (readonly Stretch[])[],
  emfVolt: number,
): SpeedLevel {
  const parts = pieces.flatMap(({ raw, emf, switching, terminals }, p) =>
    stretches[p]!.map(([from, to]) => {
      const part = raw.subarray(from, to)
      // The voltage of open terminals counts as the current that it would drive.
      if (terminals === 'open') {
        return { samples: part.map(volt => volt / (resistanceOhm ?? 1)), changedBy: 0 }
      }
      const clean = switching === null ? part : removeSwitching(part, switching)
      const settling = emf && settlingOf(emf.subarray(from, to))
      if (!settling) return { samples: clean, changedBy: 0 }
      const changedBy = Math.max(...settling.map(Math.abs))
      return { samples: straightened(clean, settling), changedBy }
    }),
  )
  const segments = parts.map(({ samples }) => samples)
  const longest = pieces
    .flatMap(({ raw, switching }, p) =>
      stretches[p]!.map(([from, to]) => ({ part: raw.subarray(from, to), switching })),
    )
    .reduce<{ part: Float64Array; switching: Switching | null } | null>(
      (most, one) => (most !== null && most.part.length >= one.part.length ? most : one),
      null,
    )
  const length = segments.reduce((sum, segment) => sum + segment.length, 0)
  const open = pieces.reduce((sum, { terminals }, p) => {
    const inside = stretches[p]!.reduce((all, [from, to]) => all + to - from, 0)
    return terminals === 'open' ? sum + inside : sum
  }, 0)
  return {
    segments,
    spans: pieces.flatMap(({ start }, p) =>
      stretches[p]!.map(([from, to]) => ({ start: start + from, end: start + to })),
    ),
    length,
    terminals: 2 * open > length ? 'open' : 'closed',
    emfVolt,
    straightenedBy: Math.max(0, ...parts.map(({ changedBy }) => changedBy)),
    switching: pieces.find(piece => piece.switching !== null)?.switching ?? null,
    carriers: longest?.switching ? carriersOf(longest.part, longest.switching) : [],
  }
}

function fullest(counts: ReadonlyMap<number, number>, halfWidth: number): number | null {
  let best: number | null = null
  let most = 0
  for (const centre of counts.keys()) {
    let sum = 0
    for (let bin = centre - halfWidth; bin <= centre + halfWidth; bin++) {
      sum += counts.get(bin) ?? 0
    }
    if (sum > most) {
      most = sum
      best = centre
    }
  }
  return best
}
