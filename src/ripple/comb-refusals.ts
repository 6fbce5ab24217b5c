import { alias } from './alias.ts'
import type { EmfCourse } from './emf-course.ts'
import type { CombCandidate } from './find-comb.ts'
import type { LevelSpectrum } from './level-fit.ts'
import { heightWithin, isSwitching, SKIRT_BINS } from './peaks.ts'
import type { RippleFault } from './ripple-fault.ts'
import type { RippleSettings } from './ripple-settings.ts'
import type { SpeedLevel } from './speed-levels.ts'

/** The commutation must stay below this share of the sample rate. */
export const HIGHEST_SHARE = 0.45

export const commutationOf = ({ turnsPerVoltSec, comb }: CombCandidate) =>
  turnsPerVoltSec * comb.ripplesPerTurn

/** What is left of the switching this near to the commutation, if it is higher, would be followed in its stead. */
const NEAR_SHARE = 1 / 16
const OWN_BINS = 4

/** Null where nothing of the switching is in the way of the commutation. */
export function besideSwitching(
  { comb, levels }: CombCandidate,
  { spectrum, switching }: LevelSpectrum,
): RippleFault | null {
  const commutationHz = levels[0]!.turnRate * comb.ripplesPerTurn
  if (switching === null) return null
  let own = 0
  let foreign = 0
  let foreignHz = 0
  for (const { binWidth, firstBin, meanSquare } of spectrum) {
    for (let b = 0; b < meanSquare.length; b++) {
      const hz = (firstBin + b) * binWidth
      if (Math.abs(hz / commutationHz - 1) > NEAR_SHARE) continue
      const away = Math.abs(hz - commutationHz) / binWidth
      if (away < OWN_BINS) own = Math.max(own, meanSquare[b]!)
      const covered = away > OWN_BINS && isSwitching(hz, binWidth, switching, SKIRT_BINS)
      if (covered && meanSquare[b]! > foreign) {
        foreign = meanSquare[b]!
        foreignHz = hz
      }
    }
  }
  if (foreign < own) return null
  return {
    code: 'switching-in-step',
    text: `the bridge's switching, as these samples show it, stands at ${foreignHz.toPrecision(4)} Hz, on or beside the commutation at ${commutationHz.toPrecision(4)} Hz: sample at another rate, or drive another voltage`,
  }
}

/** A straightened level moves what was left of the switching up by what the speed still changed, and a little more … */
const MOVED_REACH = 1.2
/** … of which the first harmonics look like a comb of their own: the first of them is the tallest. */
const FIRST_HARMONICS = [1, 2, 3]

/** Whether a comb stands where the switching of a straightened level moved to. */
export function isMovedSwitching(
  { comb, levels }: CombCandidate,
  { straightenedBy }: SpeedLevel,
  { spectrum, switching }: LevelSpectrum,
): boolean {
  if (switching === null || straightenedBy === 0) return false
  const { frequency, sampleRate } = switching
  const commutationHz = levels[0]!.turnRate * comb.ripplesPerTurn
  const own = heightWithin(spectrum, commutationHz, OWN_BINS)
  return FIRST_HARMONICS.some(harmonic => {
    const moved = commutationHz / (sampleRate * alias((harmonic * frequency) / sampleRate))
    if (!(moved > 1 && moved < 1 + MOVED_REACH * straightenedBy)) return false
    return heightWithin(spectrum, moved * frequency, OWN_BINS) >= own
  })
}

/** With a known constant, the rate that the speed of this record needs. */
export function sampledTooSlowly(
  levels: readonly SpeedLevel[],
  { rateHz }: EmfCourse,
  { backEmfConstant, ripplesPerTurn }: RippleSettings,
): RippleFault | null {
  if (backEmfConstant === null || ripplesPerTurn === null) return null
  const slowest = Math.min(...levels.map(level => level.emfVolt))
  const commutationHz = (ripplesPerTurn * slowest) / (2 * Math.PI * backEmfConstant.value)
  if (commutationHz < HIGHEST_SHARE * rateHz) return null
  const neededHz = roundUp(3 * commutationHz)
  return {
    code: 'sampled-too-slowly',
    neededHz,
    text: `sampled at ${rateHz.toPrecision(4)} Hz, but the commutation is expected at ${commutationHz.toPrecision(3)} Hz: ${neededHz} Hz would do`,
  }
}

/** Next of 1, 2, 5, 10, … at or above. */
function roundUp(value: number): number {
  const decade = 10 ** Math.floor(Math.log10(value))
  return decade * ([1, 2, 5].find(step => step * decade >= value * 0.9999) ?? 10)
}

export function noRipple(
  levels: readonly SpeedLevel[],
  { rateHz }: EmfCourse,
  { ripplesPerTurn }: RippleSettings,
): RippleFault {
  const samples = levels.reduce((sum, { length }) => sum + length, 0)
  const highest = HIGHEST_SHARE * rateHz
  const bound =
    ripplesPerTurn === null
      ? `above ${highest.toPrecision(3)} Hz none could be seen`
      : `above ${((60 * highest) / ripplesPerTurn).toPrecision(3)} rpm none could be seen at this rate`
  return {
    code: 'no-ripple',
    text: `no ripple stands out in ${samples} samples at ${rateHz.toPrecision(4)} Hz (${bound}): record longer at a steady speed, faster, or in a more sensitive range`,
  }
}

/** What only one level of speed shows, and another is too short to show, no second one bears out. */
export function levelTooShort(
  best: CombCandidate,
  longest: SpeedLevel,
  short: SpeedLevel,
): RippleFault {
  const hz = (commutationOf(best) * longest.emfVolt).toPrecision(4)
  return {
    code: 'too-short',
    text: `the lines suggest a commutation at ${hz} Hz, but the ${short.length} samples at another speed are too few to show it there: stay at each speed for some 200 ripples, or give a rough back-EMF constant`,
  }
}

export function ambiguous(
  best: CombCandidate,
  rival: CombCandidate,
  level: SpeedLevel,
  { emfFrom }: EmfCourse,
): RippleFault {
  const hz = (candidate: CombCandidate) => (commutationOf(candidate) * level.emfVolt).toPrecision(4)
  const needed =
    emfFrom === 'lines'
      ? 'log the voltage beside the current, or record several speeds'
      : 'give a rough back-EMF constant, a tachometer reading, or a record at several speeds'
  return {
    code: 'ambiguous',
    text: `the commutation may be at ${hz(best)} or at ${hz(rival)} Hz, and the lines do not decide: ${needed}`,
  }
}

/** With the current alone, where no part of the record shows a comb at all. */
export function noLines(): RippleFault {
  return {
    code: 'no-ripple',
    text: 'no part of the record shows a comb of lines beyond doubt; with the voltage beside the current far less is enough',
  }
}

/**
 * Lines of the shaft move with its speed; with the current alone nothing else tells them from the switching's.
 *
 * @param isStated whether a switching frequency was stated, which shows near by or may
 */
export function standsStill(commutationHz: number, isStated: boolean): RippleFault {
  const hz = commutationHz.toPrecision(4)
  const text = isStated
    ? `the lines stand still, the commutation's at ${hz} Hz: with the current alone the switching that was stated may show there; log the voltage beside it, sample at another rate, or record a start or a change of speed`
    : `the lines stand still, the commutation's at ${hz} Hz: with the current alone a bridge's switching or hum looks the same; log the voltage beside it, state the switching frequency (0 where nothing switches), or record a start or a change of speed`
  return { code: 'ambiguous', text }
}
