import { NO_PROGRESS, type SequenceState, withProgress } from './sequence-state.ts'
import { STEP_IDS, type StepId } from './step.ts'
import { STEPS } from './steps/all-steps.ts'
import { openPosition, positionTag } from './steps/locked-rotor.ts'

/** What the operator may do now, beside answering. Nothing while the rig drives: stop comes first. */
export function allowedOf(state: SequenceState): {
  back: boolean
  repeat: boolean
  skip: boolean
  resume: boolean
} {
  const { step, pending, pause, outcome } = state
  const busy = pending?.type === 'test' || pending?.type === 'make-safe'
  const still = outcome === null && !busy && !pause?.linkLost && state.cautionsAcknowledged
  return {
    back: still && STEP_IDS.indexOf(step) > STEP_IDS.indexOf('questions'),
    repeat: still && step !== 'cautions',
    skip: still && STEPS[step].mayBeSkipped,
    resume: outcome === null && pause !== null,
  }
}

/** The step before, afresh. Runs stay in the store; they no longer count for the identification. */
export function goBack(state: SequenceState): SequenceState {
  const previous = STEP_IDS[STEP_IDS.indexOf(state.step) - 1]!
  return { ...afresh(afresh(state, state.step), previous), step: previous }
}

/** This step once more: of the questions the last one, of the locked rotor the last position. */
export function repeatStep(state: SequenceState): SequenceState {
  if (state.step === 'questions') return forgetLastAnswer(state)
  if (state.step !== 'locked-rotor') return afresh(state, state.step)
  const open = openPosition(state)
  const last = (open ?? state.settings.positions + 1) - 1
  const { tests } = state.progress['locked-rotor']
  // Clamped and not measured yet: this position; else the one before.
  const position = state.shaft.is === 'locked' && state.shaft.position === open ? open : last
  const kept = tests.filter(test => test.tag !== positionTag(position))
  return {
    ...withProgress(state, 'locked-rotor', { ...NO_PROGRESS, tests: kept }),
    shaft: { is: 'unknown' },
  }
}

export function skipStep(state: SequenceState): SequenceState {
  return withProgress(state, state.step, { status: 'skipped', note: 'skipped by the operator' })
}

function afresh(state: SequenceState, step: StepId): SequenceState {
  const answers = Object.fromEntries(
    Object.entries(state.answers).filter(([id]) => !belongsTo(id, step)),
  )
  return { ...withProgress(state, step, NO_PROGRESS), answers }
}

function belongsTo(questionId: string, step: StepId): boolean {
  switch (step) {
    case 'soak':
      return questionId.startsWith('soak-')
    case 'first-spin':
      return questionId === 'rotation'
    case 'locked-rotor':
      return questionId.startsWith('clamp-')
    default:
      return false
  }
}

/** Answers are kept in the order in which they were given. */
function forgetLastAnswer(state: SequenceState): SequenceState {
  const last = Object.keys(state.answers).at(-1)
  const answers = Object.fromEntries(Object.entries(state.answers).filter(([id]) => id !== last))
  return { ...withProgress(state, 'questions', NO_PROGRESS), answers }
}
