import { failure, type Result, success } from '../base/result.ts'
import type { RunSignals } from '../signals/run-signals.ts'
import { noLines } from './comb-refusals.ts'
import { courseByLines } from './course-by-lines.ts'
import { emfCourse } from './emf-course.ts'
import { identifyComb, type IdentifiedComb } from './identify-comb.ts'
import type { TrackedStretch } from './measure-stretch.ts'
import { cutPieces } from './pieces.ts'
import type { RippleFault } from './ripple-fault.ts'
import type { RippleSettings } from './ripple-settings.ts'
import { pulsesLeft, switchingInStep } from './switching-in-step.ts'
import { trackPiece } from './track-piece.ts'
import { whereFollowed } from './where-followed.ts'

export type { TrackedStretch } from './measure-stretch.ts'

export interface RippleTrack {
  readonly comb: IdentifiedComb
  readonly rateHz: number
  /** Time of sample 0 that the ripple belongs to: stamps less delay and half of the aperture. */
  readonly firstSec: number
  readonly stretches: readonly TrackedStretch[]
  readonly resistanceOhm: number | null
  readonly directionKnown: boolean
  readonly saturatedSamples: number
}

/** Speed and angle of a brushed motor's shaft from the ripple of its current, or of its voltage while it coasts. */
export function trackRipple(
  signals: RunSignals,
  settings: RippleSettings,
): Result<RippleTrack, RippleFault> {
  const { timeSec, current, voltage } = signals
  if (timeSec === null || signals.count < 2) {
    return fault('missing-channel', 'readings without a time column hold no ripple')
  }
  if (current === null && voltage === null) {
    return fault('missing-channel', 'ripple needs a current channel, or a voltage while coasting')
  }
  const cut = cutPieces(signals)
  if (cut.pieces.length === 0) {
    return cut.saturated > 0
      ? fault(
          'saturated',
          'the current stands at the end of its range: take a wider range, or couple the channel to AC',
        )
      : fault('too-short', 'no stretch of 32 samples without a gap')
  }
  const inStep = switchingInStep(signals, 1 / cut.periodSec, settings)
  if (inStep !== null) return fault('switching-in-step', inStep)
  const read = emfCourse(signals, cut, settings)
  const course = voltage === null ? courseByLines(read, settings) : read
  if (course === null) return failure(noLines())
  // A back-EMF made of pulses tells nothing, and their lines look like a comb.
  const lost = pulsesLeft(course, 'nearly all')
  if (lost !== null) return fault('switching-in-step', lost)
  // Without a voltage a back-EMF constant tells no speed.
  const known = course.emfFrom === 'lines' ? { ...settings, backEmfConstant: null } : settings
  const comb = identifyComb(course, known)
  if (!comb.ok) {
    const isBlind = comb.error.code === 'no-ripple' || comb.error.code === 'not-turning'
    const pulses = isBlind ? pulsesLeft(course) : null
    return pulses === null ? comb : fault('switching-in-step', pulses)
  }
  const shown = course.emfFrom === 'lines' ? whereFollowed(course, comb.value) : course
  const stretches = shown.pieces.flatMap(piece => trackPiece(piece, shown, comb.value, known))
  if (stretches.length === 0) {
    if (comb.value.beside !== null) return failure(comb.value.beside)
    return fault('no-ripple', 'the ripple cannot be followed: it is lost in the noise')
  }
  const traits = (current ?? voltage)!.traits
  return success({
    comb: comb.value,
    rateHz: course.rateHz,
    firstSec: timeSec[0]! - traits.delaySec - traits.apertureSec / 2,
    stretches,
    resistanceOhm: read.resistanceOhm,
    directionKnown: voltage !== null,
    saturatedSamples: cut.saturated,
  })
}

function fault(code: Exclude<RippleFault['code'], 'sampled-too-slowly'>, text: string) {
  return failure<RippleFault>({ code, text } as RippleFault)
}
