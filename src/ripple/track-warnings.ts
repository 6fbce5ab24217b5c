import type { RippleTrack } from './track-ripple.ts'

export interface RippleWarning {
  readonly code: 'speed-crosses-zero' | 'direction-unknown' | 'saturated'
  readonly text: string
}

/** What a user has to know beside the speeds. */
export function trackWarnings(track: RippleTrack): RippleWarning[] {
  const warnings: RippleWarning[] = []
  for (const [k, stretch] of track.stretches.entries()) {
    const next = track.stretches[k + 1]
    if (next === undefined || next.sign === stretch.sign) continue
    const [from, to] = [stretch.end, next.start].map(
      sample => track.firstSec + sample / track.rateHz,
    )
    warnings.push({
      code: 'speed-crosses-zero',
      text: `the shaft turned round between ${from!.toFixed(3)} s and ${to!.toFixed(3)} s: no ripple tells the speed there`,
    })
  }
  if (!track.directionKnown) {
    warnings.push({
      code: 'direction-unknown',
      text: 'without a voltage the ripple does not tell the direction: it is taken as positive',
    })
  }
  if (track.saturatedSamples > 0) {
    warnings.push({
      code: 'saturated',
      text: `${track.saturatedSamples} samples at the end of the channel's range were left out`,
    })
  }
  return warnings
}
