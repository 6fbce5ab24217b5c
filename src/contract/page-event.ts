import type { BenchView } from './http-bench.ts'
import type { JobView } from './http-motors.ts'
import type { LiveEvent } from './live.ts'

/** What an event stream carries, one JSON object an event. The first is always `hello`. */
export type PageEvent =
  /** The name of this stream: who drives is told by it. */
  | { readonly type: 'hello'; readonly stream: string; readonly bench: BenchView }
  /** The state of the bench after any change of it. */
  | { readonly type: 'bench'; readonly bench: BenchView }
  | { readonly type: 'live'; readonly event: LiveEvent }
  /** Something that the operator should read, and that passes. */
  | { readonly type: 'told'; readonly tone: 'plain' | 'warning'; readonly text: string }
  | { readonly type: 'job'; readonly job: JobView }
  /**
   * The last of its stream: so many pages of this browser are open that it could send nothing any more,
   * stop least of all. The page opens a new stream once somebody turns to it.
   */
  | { readonly type: 'rest' }
  /** Nothing new, now and then: a stream that is silent for longer is dead. */
  | { readonly type: 'beat' }
  /** This client reads too slowly: so many live events were left out before this one. */
  | { readonly type: 'missed'; readonly count: number }
