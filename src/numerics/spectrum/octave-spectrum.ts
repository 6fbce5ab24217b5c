/// <reference path="./fourier-transform.d.ts" />
import { fft } from 'fourier-transform'
import { halveRate } from './halve-rate.ts'

/** One octave of a spectrum: bins of equal width at one rate of sampling. */
export interface SpectrumOctave {
  /** Width of a bin; bin b stands at frequency b × width. */
  readonly binWidth: number
  readonly firstBin: number
  /** Mean square of a sinusoid that would stand so high, mean over the frames. */
  readonly meanSquare: Float64Array
  /** Mean over the frames of the ratio to the local noise floor: about 1 where there is nothing but noise. */
  readonly excess: Float64Array
  /** Independent frames that the mean is worth. */
  readonly count: number
}

/** Octaves from the highest down; each begins where the one above it ends. */
export type OctaveSpectrum = readonly SpectrumOctave[]

export interface OctaveChoices {
  /** Longest frame; a power of two. */
  readonly longestFrame: number
  /** At most so many frames an octave, spread evenly. */
  readonly mostFrames: number
  readonly window: WindowShape
}

export const DEFAULT_OCTAVE_CHOICES: OctaveChoices = {
  longestFrame: 2048,
  mostFrames: 128,
  window: 'hann',
}

/**
 * Cosine sums of a window: `hann` has the sharper lines; `blackman-harris` holds its side lobes 92 dB down, for small lines
 * beside very large ones. Source: F. J. Harris, Proc. IEEE 66 (1978) 51, four terms (coefficients from memory).
 */
const WINDOWS = {
  hann: [0.5, 0.5],
  'blackman-harris': [0.35875, 0.48829, 0.14128, 0.01168],
} as const

export type WindowShape = keyof typeof WINDOWS

const SHORTEST_FRAME = 64
/** Frequencies used of each octave, in shares of its rate; the topmost goes on to `TOP`. */
const LOW = 0.2
const HIGH = 0.4
const TOP = 0.49
/** Frames that stand out of the usual are held down to this many times the floor. */
const LARGEST_EXCESS = 1e4

/**
 * Spectrum with a resolution in proportion to the frequency, as long as the record allows it: each octave is
 * read from the signal at half the rate of the octave above, in frames of equal count. Every frame counts by its ratio to
 * its own noise floor, so that loud moments (a step, a spark) do not outweigh the rest.
 *
 * @param segments stretches of evenly spaced samples, at the same rate
 * @param rate samples a unit of time (or of whatever the samples are spaced along)
 */
export function octaveSpectrum(
  segments: readonly Float64Array[],
  rate: number,
  choices: OctaveChoices = DEFAULT_OCTAVE_CHOICES,
): OctaveSpectrum {
  const octaves: SpectrumOctave[] = []
  let level = segments
  let levelRate = rate
  for (let depth = 0; ; depth++) {
    const longest = level.reduce((most, segment) => Math.max(most, segment.length), 0)
    if (longest < SHORTEST_FRAME) return octaves
    octaves.push(averageFrames(level, levelRate, longest, depth === 0 ? TOP : HIGH, choices))
    level = level.map(halveRate)
    levelRate /= 2
  }
}

function averageFrames(
  segments: readonly Float64Array[],
  rate: number,
  longest: number,
  high: number,
  choices: OctaveChoices,
): SpectrumOctave {
  const size = Math.min(choices.longestFrame, 2 ** Math.floor(Math.log2(longest)))
  const starts = frameStarts(segments, size)
  const stride = Math.max(1, Math.ceil(starts.length / choices.mostFrames))
  const window = windowOf(choices.window, size)
  const firstBin = Math.max(2, Math.round(LOW * size))
  const lastBin = Math.round(high * size) + 1
  const width = lastBin - firstBin
  const frame = new Float64Array(size)
  const power = new Float64Array(width)
  const ratio = new Float64Array(width)
  // |X|² of a sinusoid is (a Σw/2)², its mean square a²/2.
  const scale = 2 / window.reduce((sum, w) => sum + w, 0) ** 2
  let frames = 0
  for (let f = 0; f < starts.length; f += stride) {
    const { segment, start } = starts[f]!
    for (let i = 0; i < size; i++) frame[i] = window[i]! * segment[start + i]!
    const [re, im] = fft(frame)
    let fourthRoots = 0
    for (let b = 0; b < width; b++) {
      const x = re[firstBin + b]! ** 2 + im[firstBin + b]! ** 2
      fourthRoots += Math.sqrt(Math.sqrt(x))
    }
    // Of exponential noise, the mean of the fourth roots is Γ(1.25) times the fourth root of the mean.
    const floor = (fourthRoots / width / 0.9064024771) ** 4
    if (!(floor > 0)) continue
    frames++
    for (let b = 0; b < width; b++) {
      const x = re[firstBin + b]! ** 2 + im[firstBin + b]! ** 2
      power[b]! += scale * x
      ratio[b]! += Math.min(x / floor, LARGEST_EXCESS)
    }
  }
  if (frames > 0) {
    for (let b = 0; b < width; b++) {
      power[b]! /= frames
      ratio[b]! /= frames
    }
  }
  // Half-overlapping Hann frames are worth 0.95 of as many independent ones (Welch 1967, from memory).
  const count = Math.max(1, frames * (stride === 1 && frames > 1 ? 0.95 : 1))
  return {
    binWidth: rate / size,
    firstBin,
    meanSquare: power,
    excess: runningFloor(ratio, count).map((floor, b) => (floor > 0 ? ratio[b]! / floor : 0)),
    count,
  }
}

function frameStarts(segments: readonly Float64Array[], size: number) {
  return segments.flatMap(segment => {
    const starts: { segment: Float64Array; start: number }[] = []
    for (let start = 0; start + size <= segment.length; start += size >> 1) {
      starts.push({ segment, start })
    }
    const last = segment.length - size
    if (last > 0 && last - (starts.at(-1)?.start ?? 0) > size >> 2) {
      starts.push({ segment, start: last })
    }
    return starts
  })
}

const FLOOR_HALF_WIDTH = 32
const FLOOR_QUANTILE = 0.3
const FLOOR_NORMAL = -0.5244005127

/** Low quantile of the neighbourhood, made good for the scatter of a mean of `count` exponentials (Wilson–Hilferty). */
function runningFloor(values: Float64Array, count: number): Float64Array {
  const bias = (1 - 1 / (9 * count) + FLOOR_NORMAL / (3 * Math.sqrt(count))) ** 3
  const floor = new Float64Array(values.length)
  const step = FLOOR_HALF_WIDTH >> 1
  const marks: number[] = []
  for (let middle = 0; middle < values.length + step; middle += step) {
    const from = Math.max(
      0,
      Math.min(middle - FLOOR_HALF_WIDTH, values.length - 2 * FLOOR_HALF_WIDTH),
    )
    const near = values.slice(from, from + 2 * FLOOR_HALF_WIDTH).sort()
    marks.push(near[Math.floor(FLOOR_QUANTILE * (near.length - 1))]! / bias)
  }
  for (let b = 0; b < values.length; b++) {
    const at = b / step
    const below = Math.floor(at)
    floor[b] = marks[below]! + (at - below) * (marks[below + 1]! - marks[below]!)
  }
  return floor
}

export function windowOf(shape: WindowShape, size: number): Float64Array {
  return Float64Array.from({ length: size }, (_, i) => {
    const angle = (2 * Math.PI * (i + 0.5)) / size
    return WINDOWS[shape].reduce(
      (sum, a, k) => sum + (k % 2 === 0 ? a : -a) * Math.cos(k * angle),
      0,
    )
  })
}
