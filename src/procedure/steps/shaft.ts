import { ask, type Need } from '../need.ts'
import type { Question } from '../question.ts'
import type { SequenceState } from '../sequence-state.ts'
import type { StepId } from '../step.ts'

/** Asked wherever the shaft has to be free and nobody has said so since it was last uncertain. */
export function shaftFreeQuestion(step: StepId, wasLocked: boolean): Question {
  return {
    id: 'shaft-free',
    step,
    text: wasLocked
      ? 'Take the locking bar off. Does it lie on the bench, and does the shaft turn freely by hand?'
      : 'Is the body of the motor clamped, the shaft free, no locking bar on it, and the guard in place?',
    detail:
      'A bar left on becomes a missile at the first turn. After your answer the rig may drive: hands off.',
    form: { kind: 'confirm', yes: 'the shaft is free', no: 'not yet' },
    suggested: null,
    handsNear: true,
  }
}

/** Null where the shaft is known to be free. */
export function needFreeShaft(state: SequenceState, step: StepId): Need | null {
  if (state.shaft.is === 'free') return null
  return ask(shaftFreeQuestion(step, state.shaft.is === 'locked'))
}

/** Steps of the golden angle fall on ever new places of the commutator, whatever its segments. */
const GOLDEN_DEGREES = 137.5

export function clampQuestion(position: number, positions: number): Question {
  const degrees = Math.round((position - 1) * GOLDEN_DEGREES) % 360
  return {
    id: `clamp-${position}`,
    step: 'locked-rotor',
    text: `Position ${position} of ${positions}: turn the shaft to the mark at about ${degrees}° and clamp it against the full stall torque. At which angle is it clamped?`,
    detail:
      position === 1
        ? 'Mark the shaft first: any mark is 0°; angles count in the positive rotation. After your answer pulses come in both directions: hands off, out of the arc of the bar.'
        : 'After your answer pulses come in both directions: hands off, out of the arc of the bar.',
    form: { kind: 'number', unit: 'degrees', minimum: -360, maximum: 360, optional: true },
    suggested: degrees,
    handsNear: true,
  }
}
