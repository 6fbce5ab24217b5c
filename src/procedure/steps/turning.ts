import { contextOf } from '../bench-answers.ts'
import { settleSec } from '../climb.ts'
import { done, type Need, type StepLogic } from '../need.ts'
import { planCoastDown } from '../plan-coast-down.ts'
import { planFreeRun } from '../plan-free-run.ts'
import type { PlanContext, Planned } from '../plan-parts.ts'
import { planRunUp } from '../plan-run-up.ts'
import { lastTest, measuresTurning, type SequenceState } from '../sequence-state.ts'
import type { StepId } from '../step.ts'
import { fasterTurn } from './first-spin.ts'
import { needFreeShaft } from './shaft.ts'

type Direction = 1 | -1

export const freeRunStep: StepLogic = {
  id: 'free-run',
  title: 'Free run',
  operatorDoes: 'Keep clear of the shaft; nothing is coupled to it but the encoder.',
  rigDoes: 'A gentle start that proves the shaft free, then steps of voltage, in both directions.',
  mayBeSkipped: true,
  next: state => {
    const isReady = state.shaft.is === 'free' && measuresTurning(state.rig)
    const faster = isReady ? fasterTurn(state, 'free-run') : null
    return faster ?? bothWays(state, 'free-run', 'free run', planFreeRun)
  },
  durationSec: state => 2 * 5 * (settleSec(state.known) + 0.35),
}

export const runUpStep: StepLogic = {
  id: 'run-up',
  title: 'Run-up',
  operatorDoes: 'Keep clear of the shaft.',
  rigDoes: 'One step of voltage from standstill in each direction.',
  mayBeSkipped: true,
  next: state => bothWays(state, 'run-up', 'run-up', planRunUp),
  durationSec: state => 2 * (settleSec(state.known) + 0.35),
}

export const coastDownStep: StepLogic = {
  id: 'coast-down',
  title: 'Coast-down',
  operatorDoes: 'Keep clear of the shaft until it stands.',
  rigDoes: 'Brings the shaft up to speed, then opens the terminals, in both directions.',
  mayBeSkipped: true,
  next: state =>
    bothWays(state, 'coast-down', 'coast-down', (context, direction) =>
      planCoastDown(context, direction, state.settings.longestCoastSec),
    ),
  durationSec: state =>
    2 * (settleSec(state.known) + 0.4 + Math.min(4, state.settings.longestCoastSec)),
}

function bothWays(
  state: SequenceState,
  step: StepId,
  name: string,
  plan: (context: PlanContext, direction: Direction) => Planned,
): Need {
  if (!measuresTurning(state.rig)) {
    return { type: 'leave-out', note: 'the rig measures neither speed nor position' }
  }
  const free = needFreeShaft(state, step)
  if (free) return free
  const directions: readonly Direction[] = state.rig.reversible ? [1, -1] : [1]
  for (const direction of directions) {
    const tag = direction > 0 ? 'positive' : 'negative'
    if (lastTest(state, step, tag)) continue
    const title = `${name}, ${tag} direction`
    return { type: 'test', tag, role: 'measure', title, planned: plan(contextOf(state), direction) }
  }
  return done(directions.length > 1 ? 'both directions' : 'one direction: the rig cannot reverse')
}
