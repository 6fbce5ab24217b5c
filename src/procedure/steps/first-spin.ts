import { contextOf } from '../bench-answers.ts'
import { knownBackEmf } from '../known-motor.ts'
import { ask, done, type Need, type StepLogic } from '../need.ts'
import { ceilingAmp } from '../plan-parts.ts'
import { planGentle } from '../plan-gentle.ts'
import { planFirstSpin } from '../plan-spin.ts'
import type { Question } from '../question.ts'
import { learnsNoMore, measuresTurning, type SequenceState, testsOf } from '../sequence-state.ts'
import type { StepId } from '../step.ts'
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
    if (state.known.breakAwayVolt === null) return nudge(state)
    if (testsOf(state, 'first-spin', 'spin').length === 0) return turn(state)
    const faster = fasterTurn(state, 'first-spin')
    // Where the winding may not stand it yet, it comes before the free run.
    if (faster?.planned.ok) return faster
    const { rotation } = state.answers
    if (typeof rotation === 'string') return done(`positive is ${rotation}, seen on the shaft end`)
    return ask(ROTATION_QUESTION)
  },
  durationSec: () => 4,
}

function nudge(state: SequenceState): Need {
  const context = contextOf(state)
  const probes = testsOf(state, 'first-spin', 'nudge')
  const goal = GOAL_SHARE * ceilingAmp(context.limits)
  const strongest = Math.max(0, ...state.known.stallPoints.map(point => Math.abs(point.amp)))
  const tried = Math.max(0, ...state.known.stallPoints.map(point => Math.abs(point.volt)))
  if (
    probes.length >= MOST_PROBES ||
    strongest > 0.9 * goal ||
    tried > 0.99 * context.limits.voltageVolt
  ) {
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
    planned: planGentle(context, goal, 'any'),
  }
}

/** The turn, or first what is missing to know that the winding stands it: pulses that do not turn it. */
function turn(state: SequenceState): Need {
  const context = contextOf(state)
  const planned = planFirstSpin(context)
  const warmings = testsOf(state, 'first-spin', 'warming')
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

/** One more turn, until k can be told; null once it can, or when more turns would not help. */
export function fasterTurn(state: SequenceState, step: StepId): (Need & { type: 'test' }) | null {
  const turns = testsOf(state, step, 'spin').length
  if (turns >= MOST_TURNS || knownBackEmf(state.known) !== null) return null
  const planned = planFirstSpin(contextOf(state))
  return { type: 'test', tag: 'spin', role: 'probe', title: 'a faster turn', planned }
}

/** Of the voltage that broke the shaft away. */
const STANDING_SHARE = 0.85

/** Asks for the turn once more. */
export const NOT_SEEN = 'not-seen'

export const ROTATION_QUESTION: Question = {
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
