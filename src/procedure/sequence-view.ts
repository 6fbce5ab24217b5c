import { allowedOf } from './navigation.ts'
import { planText } from './plan-text.ts'
import type { Question } from './question.ts'
import type { Pending, SequenceState } from './sequence-state.ts'
import { STEP_IDS, type StepId } from './step.ts'
import { STEPS } from './steps/all-steps.ts'

export type StepStatus = 'to-do' | 'current' | 'done' | 'skipped' | 'failed'

export type SequencePhase =
  | 'asking'
  | 'making-safe'
  | 'testing'
  | 'waiting'
  | 'identifying'
  | 'paused'
  | 'finished'

/** Everything that a page or a terminal shows of a sequence. */
export interface SequenceView {
  readonly motor: string
  readonly steps: readonly {
    readonly id: StepId
    readonly title: string
    readonly status: StepStatus
    readonly note: string | null
  }[]
  readonly current: StepId
  readonly phase: SequencePhase
  /** What the operator does now. */
  readonly operatorDoes: string
  /** What the rig will do now, with volts, amperes, seconds and expected rise. */
  readonly rigDoes: string
  readonly question: Question | null
  /** Counted down while waiting; null otherwise. */
  readonly waitLeftSec: number | null
  readonly waitWhy: string | null
  /** Share of the whole sequence done, 0 to 1, and seconds of driving and waiting left. */
  readonly progress: number
  readonly leftSec: number
  readonly may: {
    readonly back: boolean
    readonly repeat: boolean
    readonly skip: boolean
    readonly resume: boolean
  }
  /** Why it is paused; null otherwise. */
  readonly pausedBecause: string | null
  readonly warnings: readonly string[]
}

export function sequenceView(state: SequenceState, nowSec: number): SequenceView {
  const { pending, pause } = state
  const logic = STEPS[state.step]
  const question = pending?.type === 'ask' && !pause ? pending.question : null
  const waiting = pending?.type === 'wait' && !pause ? pending : null
  const leftSec = secondsLeft(state, nowSec)
  const wholeSec = STEP_IDS.reduce((sum, step) => sum + STEPS[step].durationSec(state), 0)
  return {
    motor: state.motor,
    steps: STEP_IDS.map(id => ({
      id,
      title: STEPS[id].title,
      status: statusOf(state, id),
      note: state.progress[id].note,
    })),
    current: state.step,
    phase: phaseOf(state),
    operatorDoes: pause
      ? 'See what happened; then resume, repeat, skip or go back.'
      : logic.operatorDoes,
    rigDoes: pending?.type === 'test' ? planText(pending.plan) : logic.rigDoes,
    question,
    waitLeftSec: waiting ? Math.max(0, waiting.untilSec - nowSec) : null,
    waitWhy: waiting?.why ?? null,
    progress: state.outcome ? 1 : Math.min(1, Math.max(0, 1 - leftSec / Math.max(wholeSec, 1))),
    leftSec,
    may: allowedOf(state),
    pausedBecause: pause?.text ?? null,
    warnings: state.warnings,
  }
}

function statusOf(state: SequenceState, id: StepId): StepStatus {
  const { status } = state.progress[id]
  return id === state.step && state.outcome === null && status === 'to-do' ? 'current' : status
}

function phaseOf(state: SequenceState): SequencePhase {
  if (state.outcome) return 'finished'
  if (state.pause || !state.pending) return 'paused'
  return PHASES[state.pending.type]
}

const PHASES: Readonly<Record<Pending['type'], SequencePhase>> = {
  ask: 'asking',
  'make-safe': 'making-safe',
  test: 'testing',
  wait: 'waiting',
  identify: 'identifying',
}

/** Driving and waiting still to come; people answering take what they take. */
function secondsLeft(state: SequenceState, nowSec: number): number {
  if (state.outcome) return 0
  const from = STEP_IDS.indexOf(state.step)
  return STEP_IDS.slice(from).reduce((sum, step) => {
    if (state.progress[step].status === 'done' || state.progress[step].status === 'skipped')
      return sum
    return sum + Math.max(0, STEPS[step].durationSec(state) - spentSec(state, step, nowSec))
  }, 0)
}

/** Of the current step: its finished tests, and what a wait has already taken. */
function spentSec(state: SequenceState, step: StepId, nowSec: number): number {
  const tests = state.progress[step].tests
  const driven = tests.reduce(
    (sum, test) => sum + test.summary.steps.reduce((all, part) => all + part.durationSec, 0),
    0,
  )
  const { pending } = state
  if (step !== state.step || pending?.type !== 'wait') return driven
  const last = tests.at(-1)
  return last ? driven + Math.max(0, nowSec - last.atSec) : driven
}
