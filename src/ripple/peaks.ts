import type { OctaveSpectrum } from '../numerics/spectrum/octave-spectrum.ts'

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
  /** The line nearest to a frequency within so many of its bins. */
  readonly near: (frequency: number, bins: number) => Peak | null
}

/** What else makes lines: the switching of the bridge. */
export interface Switching {
  readonly frequency: number
  /** Lines beyond half of this are folded. */
  readonly sampleRate: number
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

/** ln power of a line that would just be seen at a frequency; null where the spectrum does not reach. */
export function hiddenHeight(
  spectrum: OctaveSpectrum,
  frequency: number,
): { height: number; binWidth: number } | null {
  for (const [o, { binWidth, firstBin, excess, meanSquare, count }] of spectrum.entries()) {
    const last = excess.length - 1
    if (frequency < firstBin * binWidth) continue
    if (o === 0 && frequency > (firstBin + last) * binWidth) return null
    // Octaves of different frames may leave a bin between them.
    const bin = Math.min(last, Math.round(frequency / binWidth) - firstBin)
    if (!(excess[bin]! > 0)) return null
    const factor = seenExcess(count) / excess[bin]!
    return { height: Math.log(meanSquare[bin]! * factor), binWidth }
  }
  return null
}

/** Bins to either side of a line of the switching in which its remains hide all else … */
const COVERED_BINS = 1.6
/** … and in which they may reach. */
export const SKIRT_BINS = 2.5
const FOLDS = [-2, -1, 0, 1, 2]

/** Whether the switching or one of its harmonics stands here, folded or not: what is left of them hides all else. */
export function isSwitching(
  frequency: number,
  binWidth: number,
  switching: Switching,
  bins: number = COVERED_BINS,
): boolean {
  return FOLDS.some(fold => {
    const unfolded = frequency + fold * switching.sampleRate
    const harmonic = Math.round(unfolded / switching.frequency)
    const away = Math.abs(unfolded - harmonic * switching.frequency)
    return harmonic !== 0 && away < bins * binWidth
  })
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
  return { peaks, bins, near: (frequency, reach) => nearest(peaks, frequency, reach) }
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
