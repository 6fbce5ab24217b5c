import type { AnswerValue } from './question.ts'
import type { RigFacts } from './rig-facts.ts'
import type { FinishedTest } from './test-summary.ts'

/**
 * What happens to the guided sequence. `nowSec` is a wall clock in seconds (one that goes on while the
 * program is not running, so that a cool-down holds across an interruption).
 */
export type SequenceEvent = { readonly nowSec: number } & (
  | { readonly type: 'answer'; readonly questionId: string; readonly value: AnswerValue }
  | { readonly type: 'tick' }
  /** The answer to `run-test`: how the run ended and what it showed. Trips are told by `tripped`. */
  | { readonly type: 'test-finished'; readonly test: FinishedTest }
  | {
      readonly type: 'tripped'
      readonly by: 'rig' | 'host'
      readonly code: string
      readonly text: string
      readonly test: FinishedTest | null
    }
  /** The test could not be started or stored; nothing is known to have moved. */
  | { readonly type: 'test-failed'; readonly text: string }
  /** The answers to `make-safe`. */
  | { readonly type: 'made-safe' }
  | { readonly type: 'not-safe'; readonly text: string }
  | { readonly type: 'link-lost'; readonly text: string }
  /** Operator: stop now. The caller has opened the bridge already; the sequence pauses. */
  | { readonly type: 'stop' }
  | { readonly type: 'back' }
  | { readonly type: 'repeat' }
  | { readonly type: 'skip' }
  /** After a pause, a lost link, or a new start of the program. On a new connection the cautions come again. */
  | { readonly type: 'resume'; readonly rig: RigFacts; readonly newConnection: boolean }
  | { readonly type: 'identified'; readonly text: string }
  | { readonly type: 'identify-failed'; readonly text: string }
)
