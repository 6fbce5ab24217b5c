import type { FixtureLoad } from '../records/test-run.ts'
import { checkAnswer } from './answers.ts'
import { applyAnswer } from './answer-effects.ts'
import { unknownMotor } from './known-motor.ts'
import { allowedOf, goBack, repeatStep, skipStep } from './navigation.ts'
import { pause, tell, type Transition } from './pause.ts'
import type { RigFacts } from './rig-facts.ts'
import type { SequenceCommand } from './sequence-command.ts'
import type { SequenceEvent } from './sequence-event.ts'
import {
  NO_PROGRESS,
  type SequenceSettings,
  type SequenceState,
  type StepProgress,
  withProgress,
} from './sequence-state.ts'
import { settle } from './settle.ts'
import { STEP_IDS, type StepId } from './step.ts'
import { onTestFinished, onTripped } from './test-events.ts'

export type { Transition } from './pause.ts'

export interface SequenceStart {
  readonly motor: string
  readonly rig: RigFacts
  /** `BENCH_SETTINGS`, or `SIMULATED_SETTINGS` on a rig that declares itself simulated. */
  readonly settings: SequenceSettings
  readonly fixture: FixtureLoad | null
  readonly above60VoltDeclared: boolean
  readonly nowSec: number
}

/** A new sequence for a motor on a rig that was just connected. */
export function beginSequence(start: SequenceStart): Transition {
  const { motor, rig, settings, fixture, above60VoltDeclared, nowSec } = start
  const progress = Object.fromEntries(STEP_IDS.map(step => [step, NO_PROGRESS])) as Record<
    StepId,
    StepProgress
  >
  const state: SequenceState = {
    schema: 'sequence/1',
    motor,
    rig,
    settings,
    fixture,
    above60VoltDeclared,
    step: STEP_IDS[0],
    progress,
    answers: {},
    cautionsAcknowledged: false,
    shaft: { is: 'unknown' },
    safe: false,
    known: unknownMotor(nowSec),
    pending: null,
    pause: null,
    warnings: [],
    outcome: null,
  }
  return settle(state, nowSec, rig.simulated ? [simulatedText(settings)] : [])
}

/** One event on, purely: the same state and event give the same result. */
export function advance(state: SequenceState, event: SequenceEvent): Transition {
  const { nowSec } = event
  if (state.outcome) return { state, commands: [] }
  switch (event.type) {
    case 'answer':
      return onAnswer(state, event)
    case 'tick': {
      const { pending } = state
      if (state.pause || pending?.type !== 'wait' || nowSec < pending.untilSec) return stay(state)
      return settle({ ...state, pending: null }, nowSec)
    }
    case 'test-finished':
      return onTestFinished(state, event.test, nowSec)
    case 'tripped':
      return onTripped(state, event)
    case 'test-failed':
      return pause(state, event.text)
    case 'made-safe':
      if (state.pending?.type !== 'make-safe' || state.pause) return stay(state)
      return settle({ ...state, safe: true, pending: null }, nowSec)
    case 'not-safe':
      return pause(state, event.text)
    case 'link-lost':
      return pause({ ...state, cautionsAcknowledged: false, safe: false }, event.text, true)
    case 'stop':
      return pause(state, 'stopped by the operator', false, [{ type: 'stop-now' }])
    case 'back':
    case 'repeat':
    case 'skip':
      return onNavigation(state, event.type, nowSec)
    case 'resume':
      return onResume(state, event)
    case 'identified':
      if (state.pending?.type !== 'identify') return stay(state)
      return settle(
        withProgress({ ...state, pending: null }, 'identify', { status: 'done', note: event.text }),
        nowSec,
      )
    case 'identify-failed':
      return pause(state, event.text)
    default:
      return event satisfies never
  }
}

const stay = (state: SequenceState): Transition => ({ state, commands: [] })

function simulatedText(settings: SequenceSettings): SequenceCommand {
  return tell(
    `this rig is simulated: the soak check waits ${settings.soakIntervalSec} s instead of a minute, and clamping is done for you`,
  )
}

function onAnswer(state: SequenceState, event: SequenceEvent & { type: 'answer' }): Transition {
  const { pending } = state
  if (state.pause || pending?.type !== 'ask' || pending.question.id !== event.questionId) {
    return stay(state)
  }
  const checked = checkAnswer(pending.question, event.value)
  if (!checked.ok) {
    const again: SequenceCommand = { type: 'ask', question: pending.question }
    return { state, commands: [tell(checked.error, 'warning'), again] }
  }
  const { state: answered, commands } = applyAnswer(state, pending.question, checked.value)
  return settle({ ...answered, pending: null }, event.nowSec, commands)
}

function onResume(state: SequenceState, event: SequenceEvent & { type: 'resume' }): Transition {
  if (event.rig.serialNumber !== state.rig.serialNumber) {
    const text = `another rig answers (${event.rig.serialNumber}, this sequence began on ${state.rig.serialNumber}): connect that one, or begin a new sequence`
    return pause(state, text, true)
  }
  if (state.pause?.linkLost && !event.newConnection) return stay(state)
  const renewed = event.newConnection
    ? ({ cautionsAcknowledged: false, shaft: { is: 'unknown' } } as const)
    : {}
  return settle(
    { ...state, ...renewed, rig: event.rig, pending: null, pause: null, safe: false },
    event.nowSec,
  )
}

function onNavigation(
  state: SequenceState,
  way: 'back' | 'repeat' | 'skip',
  nowSec: number,
): Transition {
  if (!allowedOf(state)[way]) return stay(state)
  const moved = { back: goBack, repeat: repeatStep, skip: skipStep }[way](state)
  return settle({ ...moved, pending: null, pause: null }, nowSec)
}
