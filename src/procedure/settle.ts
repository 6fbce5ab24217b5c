import { coolDownNeed, COOL_CHECK_TAG } from './cool-down.ts'
import { assumeLeast, cool, leastByMassJPerKelvin } from './heat.ts'
import type { Need } from './need.ts'
import { pause, tell, type Transition } from './pause.ts'
import type { SequenceCommand } from './sequence-command.ts'
import { answeredNumber, type Pending, type SequenceState, withProgress } from './sequence-state.ts'
import { STEP_IDS } from './step.ts'
import { STEPS } from './steps/all-steps.ts'
import { CAUTIONS_QUESTION } from './steps/cautions.ts'
import { measuredRuns } from './steps/identify.ts'
import { MASS_AGAIN_ID, MASS_ID, massAgainQuestion } from './steps/questions.ts'

/** Goes on until something outside has to happen. */
export function settle(
  from: SequenceState,
  nowSec: number,
  first: readonly SequenceCommand[] = [],
): Transition {
  const commands = [...first]
  let state = { ...from, known: { ...from.known, heat: cool(from.known.heat, nowSec) } }
  // Each round finishes a step or returns.
  for (let round = 0; round <= STEP_IDS.length; round++) {
    state = withMass(state)
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

/** The mass tells how little the winding can be. */
function withMass(state: SequenceState): SequenceState {
  const grams = answeredNumber(state, MASS_AGAIN_ID) ?? answeredNumber(state, MASS_ID)
  if (grams === null) return state
  const heat = assumeLeast(state.known.heat, leastByMassJPerKelvin(grams / 1000))
  return { ...state, known: { ...state.known, heat } }
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
  if (plan.error.code === 'too-hot' && !(MASS_AGAIN_ID in state.answers)) {
    const question = massAgainQuestion(state, need.title)
    return awaitThe(state, { type: 'ask', question }, commands)
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
