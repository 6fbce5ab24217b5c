import type { AnswerValue } from '../../src/procedure/question.ts'
import type { SequenceView } from '../../src/procedure/sequence-view.ts'
import type { StoredFit } from '../store/store.ts'

/**
 * Gives the guided sequence (src/procedure, a pure state machine) a bench session, a clock, the store
 * and the identification. The command line and the page drive the same runner and show the same view.
 * `startSequence(deps)` in start-sequence.ts.
 */
export interface SequenceRunner {
  readonly view: SequenceView
  /** Resolves when the sequence has ended or was left; never rejects. */
  readonly done: Promise<SequenceOutcome>
  answer(questionId: string, value: AnswerValue): void
  /** Back a step, repeat it, skip it, or go on after a pause (the link is opened again where it was lost). */
  act(act: 'back' | 'repeat' | 'skip' | 'resume'): Promise<void>
  /** Bridge off now, then the sequence pauses. Resolves once the rig has acknowledged, or the link is gone. */
  stop(reason: string): Promise<void>
  /** Ends the runner where it stands; the state stays in the store and can be resumed. */
  leave(): Promise<void>
  listen(listener: (news: SequenceNews) => void): () => void
}

export type SequenceNews =
  | { readonly type: 'view'; readonly view: SequenceView }
  | { readonly type: 'told'; readonly tone: 'plain' | 'warning'; readonly text: string }
  | { readonly type: 'identifying'; readonly fraction: number; readonly text: string }

export interface SequenceOutcome {
  readonly outcome: 'complete' | 'incomplete' | 'left'
  readonly text: string
  readonly runIds: readonly number[]
  readonly fit: StoredFit | null
}

/** The operator's hands on a simulated bench: clamps and releases the shaft when the sequence asks. */
export interface SimulatedHands {
  setShaft(shaft: 'locked' | 'free', angleRad: number | null): Promise<void>
}
