import { contextOf } from './bench-answers.ts'
import { cool, foundRise, mostRiseKelvin, riseKelvin } from './heat.ts'
import type { Need } from './need.ts'
import { planSmallCurrent } from './plan-gentle.ts'
import { answeredNumber, type SequenceState, withProgress } from './sequence-state.ts'
import { EXPLORE_TAG, positionTag } from './steps/locked-rotor.ts'
import type { StepSummary, TestSummary } from './test-summary.ts'

export const COOL_CHECK_TAG = 'cool-check'

/**
 * A step that may not go on before the winding is cooler: look at once whether it is as warm as
 * reckoned, where that can be seen; wait a round; look again.
 */
export function coolDownNeed(state: SequenceState, nowSec: number, why: string): Need {
  const since = state.progress[state.step].coolingSinceSec
  const reference = coolReference(state)
  const untilSec = (since ?? nowSec) + state.settings.coolDownSec
  const wait: Need = { type: 'wait', untilSec, why: `cool-down: ${why}` }
  if (since === null ? !reference : nowSec < untilSec) return wait
  if (!reference) return { ...wait, untilSec: nowSec + state.settings.coolDownSec }
  return {
    type: 'test',
    tag: COOL_CHECK_TAG,
    role: 'probe',
    title: 'has the winding cooled?',
    planned: planSmallCurrent(contextOf(state), reference.step.setVolt),
  }
}

interface CoolReference {
  readonly step: StepSummary
  readonly startRiseKelvin: number
}

/** The pulse at this position that tells most: taken while cool, and well read. */
function coolReference(state: SequenceState): CoolReference | null {
  const { shaft } = state
  if (shaft.is !== 'locked') return null
  const tags = shaft.position === 1 ? [EXPLORE_TAG, positionTag(1)] : [positionTag(shaft.position)]
  let best: CoolReference | null = null
  let least = Number.POSITIVE_INFINITY
  for (const { tag, summary, startRiseKelvin } of state.progress['locked-rotor'].tests) {
    const step = summary.steps[0]
    if (!tags.includes(tag) || !step || !(step.setVolt > 0)) continue
    const read = ohms(step, 0)
    const bound = startRiseKelvin + 2 * riseKelvin(1 + (read?.relative ?? 1), 20)
    if (bound < least) {
      least = bound
      best = { step, startRiseKelvin }
    }
  }
  // A look that cannot tell better than what is reckoned only warms the winding.
  return least < mostRiseKelvin(state.known.heat) - WORTH_LOOKING_KELVIN ? best : null
}

const WORTH_LOOKING_KELVIN = 1

/** The rise found by a look at the winding, and another round of waiting begins. */
export function applyCoolCheck(
  state: SequenceState,
  summary: TestSummary,
  nowSec: number,
): SequenceState {
  const reference = coolReference(state)
  const line = state.known.line
  const next = withProgress(state, state.step, { coolingSinceSec: nowSec })
  const now = summary.steps.find(step => step.volt && step.amp)
  if (!reference || !now || !line) return next
  const before = ohms(reference.step, line.brushVolt)
  const after = ohms(now, line.brushVolt)
  if (!before || !after) return next
  const start = (answeredNumber(state, 'ambient') ?? 20) + reference.startRiseKelvin
  const rise = reference.startRiseKelvin + riseKelvin(after.ohm / before.ohm, start)
  const noise = riseKelvin(1 + Math.hypot(before.relative, after.relative), start)
  const heat = foundRise(cool(next.known.heat, nowSec), rise, noise)
  return { ...next, known: { ...next.known, heat } }
}

function ohms(step: StepSummary, brushVolt: number): { ohm: number; relative: number } | null {
  if (!step.volt || !step.amp) return null
  const volt = Math.abs(step.volt.value) - brushVolt
  const amp = Math.abs(step.amp.value)
  if (!(volt > 0 && amp > 0)) return null
  return {
    ohm: volt / amp,
    relative: Math.hypot(step.volt.uncertainty / volt, step.amp.uncertainty / amp),
  }
}
