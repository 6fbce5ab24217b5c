import { contextOf } from '../bench-answers.ts'
import { knownBackEmf } from '../known-motor.ts'
import { ask, done, type Need, type StepLogic } from '../need.ts'
import { ceilingAmp } from '../plan-parts.ts'
import { planGentle } from '../plan-gentle.ts'
import { planFirstSpin } from '../plan-spin.ts'
import type { Question } from '../question.ts'
import { learnsNoMore, measuresTurning, type SequenceState, testsOf } from '../sequence-state.ts'
import type { StepId } from '../step.ts'
import type { StepSummary } from '../test-summary.ts'
import { needFreeShaft } from './shaft.ts'

const GOAL_SHARE = 0.9
const MOST_PROBES = 24

export const firstSpinStep: StepLogic = {
  id: 'first-spin',
  title: 'First turn',
  operatorDoes: 'Keep clear and watch which way the shaft turns.',
  rigDoes: 'Gentle pulses until the shaft turns, then a few slow turns in the positive direction.',
  mayBeSkipped: true,
  next(state) {
    if (!measuresTurning(state.rig)) {
      return { type: 'leave-out', note: 'the rig measures neither speed nor position' }
    }
    const free = needFreeShaft(state, 'first-spin')
    if (free) return free
    const first = firstTurn(state, 'first-spin')
    if (first) return first
    const faster = fasterTurn(state, 'first-spin')
    // Where the winding may not stand it yet, it comes before the free run.
    if (faster?.type === 'test' && faster.planned.ok) return faster
    const { rotation } = state.answers
    if (typeof rotation === 'string') return done(`positive is ${rotation}, seen on the shaft end`)
    return ask(ROTATION_QUESTION)
  },
  durationSec: () => 4,
}

/** Pulses until the shaft turns, then one turn; null once it turned. */
function firstTurn(state: SequenceState, step: StepId): Need | null {
  if (state.known.breakAwayVolt === null) return nudge(state, step)
  return state.known.turns.length === 0 && testsOf(state, step, 'spin').length === 0
    ? turn(state, step)
    : null
}

function nudge(state: SequenceState, step: StepId): Need {
  const context = contextOf(state)
  const probes = testsOf(state, step, 'nudge')
  const goal = GOAL_SHARE * ceilingAmp(context.limits)
  const pulses = freePulses(state, step)
  const strongest = Math.max(0, ...pulses.map(pulse => pulse.peakAmp ?? 0))
  const tried = Math.max(0, ...pulses.map(pulse => Math.abs(pulse.setVolt)))
  const highestVolt = context.limits.voltageVolt
  // However much is known of the winding by then, a free shaft is woken up gently.
  const capVolt = Math.min(highestVolt, Math.max(FIRST_SHARE * highestVolt, NUDGE_GROWTH * tried))
  if (probes.length >= MOST_PROBES || strongest > 0.9 * goal || tried > 0.99 * highestVolt) {
    return {
      type: 'stuck',
      text: `the shaft does not turn at ${tried.toPrecision(2)} V and ${strongest.toPrecision(2)} A: is the locking bar on, the shaft jammed, the speed channel connected, the current limit too low?`,
    }
  }
  return {
    type: 'test',
    tag: 'nudge',
    role: 'probe',
    title: 'gentle pulse, until the shaft turns',
    planned: planGentle(context, goal, 'any', capVolt),
  }
}

/** The turn, or first what is missing to know that the winding stands it: pulses that do not turn it. */
function turn(state: SequenceState, step: StepId): Need {
  const context = contextOf(state)
  const planned = planFirstSpin(context)
  const warmings = testsOf(state, step, 'warming')
  if (!planned.ok && warmings.length < MOST_WARMINGS && !learnsNoMore(warmings)) {
    const capVolt = STANDING_SHARE * state.known.breakAwayVolt!
    const weak = planGentle(context, context.limits.currentAmp, 'any', capVolt)
    const title = 'gentle pulse: how fast does the winding warm'
    if (weak.ok) return { type: 'test', tag: 'warming', role: 'probe', title, planned: weak }
  }
  return { type: 'test', tag: 'spin', role: 'probe', title: 'first slow turn', planned }
}

const MOST_WARMINGS = 8
const MOST_TURNS = 7

/** What the free shaft was given so far. */
function freePulses(state: SequenceState, step: StepId): readonly StepSummary[] {
  const tests = [...testsOf(state, 'soak'), ...testsOf(state, step, 'nudge')]
  return tests.flatMap(test => test.summary.steps)
}

const FIRST_SHARE = 0.02
const NUDGE_GROWTH = 1.6

/** What is still missing until k can be told: a first turn, or a faster one. Null once it can. */
export function fasterTurn(state: SequenceState, step: StepId): Need | null {
  const first = firstTurn(state, step)
  if (first) return first
  const turns = testsOf(state, step, 'spin').length
  if (turns >= MOST_TURNS || knownBackEmf(state.known) !== null) return null
  const planned = planFirstSpin(contextOf(state))
  return { type: 'test', tag: 'spin', role: 'probe', title: 'a faster turn', planned }
}

/** Of the voltage that broke the shaft away. */
const STANDING_SHARE = 0.85

/** Asks for the turn once more. */
export const NOT_SEEN = 'not-seen'

const ROTATION_QUESTION: Question = {
  id: 'rotation',
  step: 'first-spin',
  text: 'Seen on the shaft end, which way did the shaft turn? That rotation is called positive from here on.',
  detail: 'Positive voltage drives positive current and positive speed.',
  form: {
    kind: 'choice',
    choices: [
      { value: 'clockwise', label: 'clockwise' },
      { value: 'counter-clockwise', label: 'counter-clockwise' },
      { value: NOT_SEEN, label: 'I did not see it: turn once more' },
    ],
  },
  suggested: 'counter-clockwise',
  handsNear: false,
}
