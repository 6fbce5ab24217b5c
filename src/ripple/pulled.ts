import { alias } from './alias.ts'
import type { IdentifiedComb } from './identify-comb.ts'
import type { Measured } from './measure-stretch.ts'
import type { Switching } from './pwm-waveform.ts'
import { tonesOf } from './tones.ts'

/** A tone of the switching this near to the commutation, in resolutions of the stretch, pulls its line … */
const PULLING = 1.3
/** … by about so many of them, one standard deviation; as seen on seeded cases. */
const PULL = 0.4

/**
 * What was told of a steady stretch, with the doubt that a tone of the switching adds where the stretch hardly resolves it from
 * the commutation.
 */
export function withPull(
  found: Measured,
  switching: Switching | null,
  { ripplesPerTurn }: IdentifiedComb,
): Measured {
  if (switching === null) return found
  const samples = found.end - found.start
  const turned = found.turns.at(-1)!
  const place = alias((turned * ripplesPerTurn) / samples)
  const nearest = Math.min(...tonesOf(switching).map(tone => Math.abs(tone - place) * samples))
  if (!(nearest < PULLING)) return found
  const readings = Math.max(1, samples / found.windowSamples)
  // A line through that many readings, each so uncertain, has a slope that is off by this many ripples over the stretch.
  const ofPull = (PULL / ripplesPerTurn) * Math.sqrt(readings / 12)
  return { ...found, angleUncertainty: Math.hypot(found.angleUncertainty, ofPull) }
}
