import type { FixtureLoad } from '../records/test-run.ts'
import { checkAnswer } from './answers.ts'
import { applyAnswer } from './answer-effects.ts'
import { applyCoolCheck, COOL_CHECK_TAG, coolDownNeed } from './cool-down.ts'
import { leastJPerKelvin, mostRiseKelvin } from './heat.ts'
import { unknownMotor } from './known-motor.ts'
import { learn } from './learn.ts'
import type { Need } from './need.ts'
import { allowedOf, goBack, repeatStep, skipStep } from './navigation.ts'
import type { RigFacts } from './rig-facts.ts'
import type { SequenceCommand } from './sequence-command.ts'
import type { SequenceEvent } from './sequence-event.ts'
import {
  answeredNumber,
  NO_PROGRESS,
  type Pending,
  type PendingTest,
  type SequenceSettings,
  type SequenceState,
  type StepProgress,
  type StepTest,
  withProgress,
} from './sequence-state.ts'
import { STEP_IDS, type StepId } from './step.ts'
import { STEPS } from './steps/all-steps.ts'
import { CAUTIONS_QUESTION } from './steps/cautions.ts'
import { measuredRuns } from './steps/identify.ts'
import type { FinishedTest } from './test-summary.ts'
import { muteChannel, wiringHints } from './wiring-hints.ts'

/** What the sequence is after an event, and what its caller is to do. */
export interface Transition {
  readonly state: SequenceState
  readonly commands: readonly SequenceCommand[]
}

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
    known: unknownMotor(null, nowSec),
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

const tell = (text: string, tone: 'plain' | 'warning' = 'plain'): SequenceCommand => ({
  type: 'tell',
  tone,
  text,
})

function simulatedText(settings: SequenceSettings): SequenceCommand {
  return tell(
    `this rig is simulated: the soak check waits ${settings.soakIntervalSec} s instead of a minute, and clamping is done for you`,
  )
}

/** What was going on is over; nothing happens until the operator resumes. */
function pause(
  state: SequenceState,
  text: string,
  linkLost = state.pause?.linkLost ?? false,
  first: readonly SequenceCommand[] = [],
): Transition {
  const cutShort = state.pending?.type === 'test' ? state.pending : (state.pause?.cutShort ?? null)
  return {
    state: { ...state, pending: null, safe: false, pause: { text, linkLost, cutShort } },
    commands: [...first, tell(text, 'warning')],
  }
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

function onTestFinished(state: SequenceState, test: FinishedTest, nowSec: number): Transition {
  const { pending } = state
  if (pending?.type !== 'test') return stay(learnCutShort(state, test, nowSec))
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

function onTripped(state: SequenceState, event: SequenceEvent & { type: 'tripped' }): Transition {
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

/** Goes on until something outside has to happen. */
function settle(
  from: SequenceState,
  nowSec: number,
  first: readonly SequenceCommand[] = [],
): Transition {
  const commands = [...first]
  let state = from
  // Each round finishes a step or returns.
  for (let round = 0; round <= STEP_IDS.length; round++) {
    state = withMass(state, nowSec)
    if (!state.cautionsAcknowledged && state.step !== 'cautions') {
      return awaitThe(state, { type: 'ask', question: CAUTIONS_QUESTION }, commands)
    }
    const progress = state.progress[state.step]
    const need: Need =
      progress.status === 'done' || progress.status === 'skipped'
        ? { type: 'done', note: progress.note }
        : STEPS[state.step].next(state, nowSec)
    switch (need.type) {
      case 'done':
      case 'leave-out': {
        const status = need.type === 'done' ? 'done' : 'skipped'
        if (need.type === 'done' && need.warning !== undefined) {
          state = { ...state, warnings: [...state.warnings, need.warning] }
          commands.push(tell(need.warning, 'warning'))
        }
        if (progress.status === 'to-do' || progress.status === 'failed') {
          state = withProgress(state, state.step, { status, note: need.note })
          if (need.note) commands.push(tell(`${STEPS[state.step].title}: ${need.note}`))
        }
        const next = STEP_IDS[STEP_IDS.indexOf(state.step) + 1]
        if (!next) return finish(state, commands)
        state = { ...state, step: next }
        break
      }
      case 'stuck': {
        const failed = withProgress(state, state.step, { status: 'failed', note: need.text })
        return pause(failed, need.text, false, commands)
      }
      case 'test':
        return planned(state, need, nowSec, commands)
      default:
        return awaitThe(state, need, commands)
    }
  }
  throw new RangeError(`step = ${state.step}; must settle within one round of steps`)
}

/** The mass tells the least heat capacity, before anything is driven. */
function withMass(state: SequenceState, nowSec: number): SequenceState {
  const grams = answeredNumber(state, 'motor-mass')
  if (grams === null || state.known.stallPoints.length > 0) return state
  return { ...state, known: unknownMotor(grams / 1000, nowSec) }
}

function planned(
  state: SequenceState,
  need: Need & { type: 'test' },
  nowSec: number,
  commands: readonly SequenceCommand[],
): Transition {
  const plan = need.planned
  if (plan.ok) {
    const { tag, role, title } = need
    return awaitThe(state, { type: 'test', tag, role, title, plan: plan.value }, commands)
  }
  if (plan.error.code !== 'too-warm' || need.tag === COOL_CHECK_TAG) {
    const failed = withProgress(state, state.step, { status: 'failed', note: plan.error.text })
    return pause(failed, `${need.title}: ${plan.error.text}`, false, commands)
  }
  const coolNeed = coolDownNeed(state, nowSec, plan.error.text)
  if (coolNeed.type === 'test') return planned(state, coolNeed, nowSec, commands)
  const since = state.progress[state.step].coolingSinceSec ?? nowSec
  const cooling = withProgress(state, state.step, { coolingSinceSec: since })
  return awaitThe(cooling, coolNeed as Pending, commands)
}

/** Hands come near, or a drive begins at standstill: the bench is made safe first. */
function awaitThe(
  state: SequenceState,
  pending: Pending,
  commands: readonly SequenceCommand[],
): Transition {
  const safeFirst =
    (pending.type === 'ask' && pending.question.handsNear) || pending.type === 'test'
  if (safeFirst && !state.safe) {
    const why = pending.type === 'ask' ? 'hands come near the shaft' : 'a test begins at standstill'
    return {
      state: { ...state, pending: { type: 'make-safe' } },
      commands: [...commands, { type: 'make-safe', why }],
    }
  }
  const next = { ...state, pending, safe: pending.type === 'test' ? false : state.safe }
  return { state: next, commands: [...commands, commandFor(next, pending)] }
}

function commandFor(state: SequenceState, pending: Pending): SequenceCommand {
  switch (pending.type) {
    case 'ask':
      return { type: 'ask', question: pending.question }
    case 'make-safe':
      return { type: 'make-safe', why: 'hands come near the shaft' }
    case 'test': {
      const { plan, role, title } = pending
      return { type: 'run-test', step: state.step, plan, role, title }
    }
    case 'wait':
      return { type: 'wait', untilSec: pending.untilSec, why: pending.why }
    case 'identify':
      return { type: 'identify', runIds: measuredRuns(state) }
    default:
      return pending satisfies never
  }
}

function finish(state: SequenceState, commands: readonly SequenceCommand[]): Transition {
  const left = STEP_IDS.filter(step => state.progress[step].status !== 'done')
  const outcome = left.length === 0 ? 'complete' : 'incomplete'
  const text =
    left.length === 0
      ? 'the sequence is complete'
      : `the sequence ends without: ${left.map(step => STEPS[step].title).join(', ')}`
  return {
    state: { ...state, pending: null, outcome },
    commands: [...commands, { type: 'finished', outcome, text }],
  }
}
