import { done, type StepLogic } from '../need.ts'
import type { SequenceState } from '../sequence-state.ts'
import { STEP_IDS } from '../step.ts'

export const identifyStep: StepLogic = {
  id: 'identify',
  title: 'Identification',
  operatorDoes: 'Wait for the parameters.',
  rigDoes: 'Nothing: the rig is disarmed.',
  mayBeSkipped: true,
  next: state =>
    measuredRuns(state).length === 0 ? done('nothing was measured') : { type: 'identify' },
  durationSec: () => 3,
}

/** Runs of the sequence that go into the identification, in the order in which they were made. */
export function measuredRuns(state: SequenceState): number[] {
  return STEP_IDS.flatMap(step =>
    state.progress[step].tests.filter(test => test.role === 'measure').map(test => test.runId),
  )
}
