import { alias } from './alias.ts'
import type { Line } from './expected-lines.ts'
import type { PeakList } from './peaks.ts'
import type { Switching } from './pwm-waveform.ts'

/** Harmonics of the switching up to this one may show where they fold to, too small to be taken off. */
const HIGHEST_HARMONIC = 60
/** A line within so many of its bins of a harmonic may be that. */
const HARMONIC_BINS = 1
/** Fewer lines than this part that cannot be the switching's are as many as chance makes. */
const LEAST_OWN_SHARE = 0.3

/** Whether nearly all lines that a comb shows stand where harmonics of the switching do, folded or not. */
export function areSwitching(seen: readonly Line[], switching: Switching | null): boolean {
  if (switching === null) return false
  const { frequency, sampleRate } = switching
  const harmonics = Array.from(
    { length: HIGHEST_HARMONIC },
    (_, k) => sampleRate * alias(((k + 1) * frequency) / sampleRate),
  )
  const own = seen.filter(({ peak }) =>
    harmonics.every(hz => Math.abs(hz - peak!.frequency) > HARMONIC_BINS * peak!.binWidth),
  )
  return own.length < LEAST_OWN_SHARE * seen.length
}

/** A line that stands this far, ln power, above what would be seen in a part of the window is missing if it is not seen there. */
const CLEARLY_SEEN = 1.5
/** It may stand within so many bins of the part. */
const PART_BINS = 2
/** Of the lines that a part must show, this share at least must be there. */
const LEAST_SHOWN = 0.4

/** Whether lines of a window are missing in a part of it. */
export function areMissing(seen: readonly Line[], part: PeakList): boolean {
  const due = seen.filter(({ peak, height }) => {
    const place = part.placeAt(peak!.frequency)
    return place !== null && !place.isCovered && height > place.hidden + CLEARLY_SEEN
  })
  const shown = due.filter(({ peak }) => part.near(peak!.frequency, PART_BINS) !== null)
  return shown.length < LEAST_SHOWN * due.length
}
