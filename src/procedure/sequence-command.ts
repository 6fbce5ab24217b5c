import type { Question } from './question.ts'
import type { StepId } from './step.ts'
import type { TestPlan } from './test-plan.ts'

/** What the caller is to do. Every reply comes back as a `SequenceEvent`. */
export type SequenceCommand =
  | { readonly type: 'tell'; readonly tone: 'plain' | 'warning'; readonly text: string }
  | { readonly type: 'ask'; readonly question: Question }
  /** Disarm; wait until the shaft stands still and the terminals are dead; reply `made-safe` or `not-safe`. */
  | { readonly type: 'make-safe'; readonly why: string }
  /** Simulated rigs only: clamp or release the simulated shaft, as the operator would have done by hand. */
  | {
      readonly type: 'set-simulated-shaft'
      readonly shaft: 'locked' | 'free'
      readonly angleRad: number | null
    }
  | {
      readonly type: 'run-test'
      readonly step: StepId
      readonly plan: TestPlan
      /** A `probe` explores (which current flows at all); only `measure` runs go to the identification. */
      readonly role: 'probe' | 'measure'
      readonly title: string
    }
  /** Bridge off now, disarm, repeat until acknowledged. */
  | { readonly type: 'stop-now' }
  /** Send `tick` events, at least one a second and one at the end. */
  | { readonly type: 'wait'; readonly untilSec: number; readonly why: string }
  | { readonly type: 'identify'; readonly runIds: readonly number[] }
  | {
      readonly type: 'finished'
      readonly outcome: 'complete' | 'incomplete'
      readonly text: string
    }
