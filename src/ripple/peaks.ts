import type { OctaveSpectrum } from '../numerics/spectrum/octave-spectrum.ts'
import { alias } from './alias.ts'
import { FIRST_HARMONICS, type Switching } from './pwm-waveform.ts'

/** A line of a spectrum, whatever it may be. */
export interface Peak {
  readonly frequency: number
  /** ln likelihood ratio against noise. */
  readonly evidence: number
  readonly meanSquare: number
  readonly binWidth: number
}

export interface PeakList {
  /** By frequency, those of the switching left out. */
  readonly peaks: readonly Peak[]
  /** Places where a line could stand. */
  readonly bins: number
  /** Of the octave that holds a frequency; 0 where the spectrum does not reach. */
  readonly binWidthAt: (frequency: number) => number
  /** Null where the spectrum does not reach. */
  readonly placeAt: (frequency: number) => Place | null
  /** The line nearest to a frequency within so many of its bins. */
  readonly near: (frequency: number, bins: number) => Peak | null
}

/** What a frequency's place in the spectrum would show. */
export interface Place {
  readonly binWidth: number
  /** ln power of a line that would just be seen there. */
  readonly hidden: number
  /** Whether what is left of the switching hides what is there. */
  readonly isCovered: boolean
  /** Whether it was so near to a line of the switching that it may have been taken off with that. */
  readonly isBeside: boolean
}

/** A line with this evidence is seen. */
export const SEEN_EVIDENCE = 8

/** Likelihood ratio of a mean of `count` exponentials that came out `excess` times as high as noise gives. */
export function evidenceOf(excess: number, count: number): number {
  return excess > 1 ? count * (excess - 1 - Math.log(excess)) : 0
}

/** Excess at which a line is seen: where `evidenceOf` is `SEEN_EVIDENCE`, by a few steps of Newton. */
function seenExcess(count: number): number {
  let excess = 1 + SEEN_EVIDENCE / count + Math.sqrt((2 * SEEN_EVIDENCE) / count)
  for (let step = 0; step < 4; step++) {
    excess -= (excess - 1 - Math.log(excess) - SEEN_EVIDENCE / count) / (1 - 1 / excess)
  }
  return excess
}

/** ln of the highest power within so many bins of a frequency; −∞ where the spectrum does not reach. */
export function heightWithin(spectrum: OctaveSpectrum, frequency: number, bins: number): number {
  let most = 0
  for (const { binWidth, firstBin, meanSquare } of spectrum) {
    const place = frequency / binWidth - firstBin
    const from = Math.max(0, Math.ceil(place - bins))
    for (let b = from; b <= Math.min(meanSquare.length - 1, place + bins); b++) {
      most = Math.max(most, meanSquare[b]!)
    }
  }
  return Math.log(most)
}

/** Bins to either side of a line of the switching in which its remains hide all else … */
const COVERED_BINS = 1.6
/** … and in which they may reach. */
export const SKIRT_BINS = 2.5

/** The first harmonics leave more behind … */
export const MOST_STRONG = 3
/** … than the others, which cover this part of it. */
const WEAKER = 0.6

/** Whether a harmonic of the switching that matters stands here, folded or not: what is left of it hides all else. */
export function isSwitching(
  frequency: number,
  binWidth: number,
  switching: Switching,
  bins: number = COVERED_BINS,
): boolean {
  return coveredParts(switching, bins).some(
    part => Math.abs(part.frequency - frequency) < part.bins * binWidth,
  )
}

/** Where the harmonics that matter show, and the bins to either side that each may take. */
const coveredParts = ({ frequency, sampleRate, harmonics }: Switching, bins: number) =>
  (harmonics ?? FIRST_HARMONICS).map(harmonic => ({
    frequency: sampleRate * alias((harmonic * frequency) / sampleRate),
    bins: harmonic <= MOST_STRONG ? bins : WEAKER * bins,
  }))

/** Parts of a bin in which it is known whether the switching covers them. */
const CELLS = 8

function coveredCells(
  firstBin: number,
  binWidth: number,
  bins: number,
  switching: Switching | null,
  reach: number,
): Uint8Array {
  const cells = new Uint8Array(bins * CELLS + 1)
  for (const part of switching === null ? [] : coveredParts(switching, reach)) {
    const place = part.frequency / binWidth - firstBin
    const from = Math.max(0, Math.ceil((place - part.bins) * CELLS))
    cells.fill(1, from, Math.max(from, Math.floor((place + part.bins) * CELLS) + 1))
  }
  return cells
}

export function listPeaks(spectrum: OctaveSpectrum, switching: Switching | null): PeakList {
  const peaks: Peak[] = []
  let bins = 0
  for (const { binWidth, firstBin, excess, meanSquare, count } of spectrum) {
    for (let b = 0; b < excess.length; b++) {
      const here = excess[b]!
      if (Number.isNaN(here)) continue
      bins++
      const before = b > 0 ? excess[b - 1]! : 0
      const after = b + 1 < excess.length ? excess[b + 1]! : 0
      if (!(here >= before) || !(here > after)) continue
      const evidence = evidenceOf(here, count)
      if (evidence < SEEN_EVIDENCE) continue
      const frequency = (firstBin + b + vertex(before, here, after)) * binWidth
      if (switching && isSwitching(frequency, binWidth, switching)) continue
      peaks.push({ frequency, evidence, meanSquare: meanSquare[b]!, binWidth })
    }
  }
  peaks.sort((a, b) => a.frequency - b.frequency)
  const octaves = spectrum.map(({ binWidth, firstBin, excess, meanSquare, count }, o) => {
    const factor = seenExcess(count)
    const last = excess.length - 1
    return {
      binWidth,
      firstBin,
      lowest: firstBin * binWidth,
      // Octaves of different frames may leave a bin between them: below the topmost, the last one stands for it.
      highest: o === 0 ? (firstBin + last) * binWidth : Number.POSITIVE_INFINITY,
      covered: coveredCells(firstBin, binWidth, excess.length, switching, COVERED_BINS),
      beside: coveredCells(firstBin, binWidth, excess.length, switching, SKIRT_BINS),
      hidden: excess.map((value, b) =>
        value > 0 ? Math.log((meanSquare[b]! * factor) / value) : Number.NaN,
      ),
    }
  })
  const octaveAt = (frequency: number) => {
    for (const octave of octaves) {
      if (frequency >= octave.lowest) return frequency <= octave.highest ? octave : null
    }
    return null
  }
  const binWidthAt = (frequency: number) => octaveAt(frequency)?.binWidth ?? 0
  return {
    peaks,
    bins,
    binWidthAt,
    placeAt: frequency => {
      const octave = octaveAt(frequency)
      if (octave === null) return null
      const place = frequency / octave.binWidth - octave.firstBin
      const bin = Math.min(octave.hidden.length - 1, Math.round(place))
      const cell = Math.round(place * CELLS)
      const isCovered = octave.covered[cell] === 1
      const isBeside = octave.beside[cell] === 1
      return { binWidth: octave.binWidth, hidden: octave.hidden[bin]!, isCovered, isBeside }
    },
    near: (frequency, reach) => nearest(peaks, frequency, reach),
  }
}

function nearest(peaks: readonly Peak[], frequency: number, reach: number): Peak | null {
  let low = 0
  let high = peaks.length
  while (low < high) {
    const middle = (low + high) >> 1
    if (peaks[middle]!.frequency < frequency) low = middle + 1
    else high = middle
  }
  let best: Peak | null = null
  for (const peak of [peaks[low - 1], peaks[low]]) {
    if (!peak) continue
    const away = Math.abs(peak.frequency - frequency)
    if (away > reach * peak.binWidth) continue
    if (best === null || away < Math.abs(best.frequency - frequency)) best = peak
  }
  return best
}

/** Place of the top of a parabola through three neighbours in ln power, in bins from the middle one. */
function vertex(before: number, here: number, after: number): number {
  if (!(before > 0) || !(after > 0)) return 0
  const left = Math.log(before / here)
  const right = Math.log(after / here)
  const curvature = left + right
  return curvature < 0 ? Math.max(-0.5, Math.min(0.5, (0.5 * (left - right)) / curvature)) : 0
}
