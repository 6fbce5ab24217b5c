import type { Planned } from './plan-parts.ts'
import type { Question } from './question.ts'
import type { SequenceState, TestRole } from './sequence-state.ts'
import type { StepId } from './step.ts'

/** What a step needs next, given all that was answered and measured so far. */
export type Need =
  | { readonly type: 'ask'; readonly question: Question }
  | {
      readonly type: 'test'
      readonly tag: string
      readonly role: TestRole
      readonly title: string
      readonly planned: Planned
    }
  | { readonly type: 'wait'; readonly untilSec: number; readonly why: string }
  | { readonly type: 'identify' }
  | { readonly type: 'done'; readonly note: string | null; readonly warning?: string }
  /** The step has nothing to do on this bench. */
  | { readonly type: 'leave-out'; readonly note: string }
  /** The step cannot go on; the operator decides. */
  | { readonly type: 'stuck'; readonly text: string }

/** One step of the guided sequence. All of it follows from the state: a resumed sequence needs no more. */
export interface StepLogic {
  readonly id: StepId
  readonly title: string
  /** What the operator does in this step, in a sentence or two. */
  readonly operatorDoes: string
  /** What the rig does in this step when it drives. */
  readonly rigDoes: string
  readonly mayBeSkipped: boolean
  next(state: SequenceState, nowSec: number): Need
  /** Seconds of driving and waiting that the whole step takes, as far as can be told. */
  durationSec(state: SequenceState): number
}

export const ask = (question: Question): Need => ({ type: 'ask', question })
export const done = (note: string | null, warning?: string): Need =>
  warning === undefined ? { type: 'done', note } : { type: 'done', note, warning }
