import type { Question } from './question.ts'
import type { StepId } from './step.ts'

export type StepStatus = 'to-do' | 'current' | 'done' | 'skipped' | 'failed'

/** Everything that a page or a terminal shows of a sequence. From `sequenceView(state, nowSec)`. */
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

export type SequencePhase =
  | 'asking'
  | 'making-safe'
  | 'testing'
  | 'waiting'
  | 'identifying'
  | 'paused'
  | 'finished'
