import { applyCoolCheck, COOL_CHECK_TAG } from './cool-down.ts'
import { leastJPerKelvin, mostRiseKelvin } from './heat.ts'
import { learn } from './learn.ts'
import { pause, tell, type Transition } from './pause.ts'
import type { SequenceEvent } from './sequence-event.ts'
import {
  type PendingTest,
  type SequenceState,
  type StepTest,
  withProgress,
} from './sequence-state.ts'
import { settle } from './settle.ts'
import type { FinishedTest } from './test-summary.ts'
import { muteChannel, wiringHints } from './wiring-hints.ts'

export function onTestFinished(
  state: SequenceState,
  test: FinishedTest,
  nowSec: number,
): Transition {
  const { pending } = state
  if (pending?.type !== 'test') return { state: learnCutShort(state, test, nowSec), commands: [] }
  const warmed = learnFrom({ ...state, pending: null }, pending, test, nowSec)
  if (test.ending !== 'complete' || !test.summary) {
    return pause(warmed, `the test ended '${test.ending}'`)
  }
  const startRiseKelvin = mostRiseKelvin(state.known.heat)
  const { tag, role, plan } = pending
  const done: StepTest = {
    tag,
    role,
    runId: test.runId,
    atSec: nowSec,
    summary: test.summary,
    startRiseKelvin,
    leastJPerKelvin: leastJPerKelvin(warmed.known.heat),
  }
  const mute = muteChannel(plan, test.summary)
  if (mute) return pause(warmed, `${mute} gives no readings: check its probe, then resume`)
  const hints = wiringHints(plan, test.summary)
  const reversed = hints.find(hint => hint.code !== 'switching-alias')
  if (reversed) return pause(warmed, `${reversed.text}; then resume`)
  const warnings = hints.map(hint => hint.text).filter(text => !state.warnings.includes(text))
  const tests = [...state.progress[state.step].tests, done]
  const logged = withProgress(
    { ...warmed, pending: null, warnings: [...state.warnings, ...warnings] },
    state.step,
    { tests, coolingSinceSec: null },
  )
  const next = tag === COOL_CHECK_TAG ? applyCoolCheck(logged, test.summary, nowSec) : logged
  return settle(
    next,
    nowSec,
    warnings.map(text => tell(text, 'warning')),
  )
}

/** The end of a test that was stopped: it comes after the pause. */
function learnCutShort(state: SequenceState, test: FinishedTest, nowSec: number): SequenceState {
  const { pause } = state
  if (!pause?.cutShort) return state
  const warmed = learnFrom(state, pause.cutShort, { ...test, ending: 'stopped' }, nowSec)
  return { ...warmed, pause: { ...pause, cutShort: null } }
}

/** Whatever the ending, the pulse has warmed the winding; only a whole test teaches more. */
function learnFrom(
  state: SequenceState,
  pending: PendingTest,
  test: FinishedTest,
  nowSec: number,
): SequenceState {
  if (!test.summary) return state
  const learned = learn(state.known, pending.plan, test.summary, nowSec)
  const known = test.ending === 'complete' ? learned : { ...state.known, heat: learned.heat }
  return { ...state, known }
}

export function onTripped(
  state: SequenceState,
  event: SequenceEvent & { type: 'tripped' },
): Transition {
  const { pending } = state
  const idle = { ...state, pending: null }
  const warmed =
    pending?.type === 'test' && event.test
      ? learnFrom(idle, pending, { ...event.test, ending: 'tripped' }, event.nowSec)
      : idle
  const by = event.by === 'rig' ? 'the rig' : 'the watch'
  // A clamp that slipped, or a shaft that stood against expectation, has to be looked at.
  const shaft = SHAFT_TRIPS.has(event.code) ? ({ is: 'unknown' } as const) : state.shaft
  return pause({ ...warmed, shaft }, `${by} opened the bridge: ${event.text}`, undefined, [
    { type: 'stop-now' },
  ])
}

const SHAFT_TRIPS: ReadonlySet<string> = new Set(['slip', 'no-motion', 'stalled', 'stall'])
