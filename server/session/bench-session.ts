import type { LinkCounters, LiveEvent } from '../../src/contract/live.ts'
import type { TestPlan } from '../../src/procedure/test-plan.ts'
import type { Quantity } from '../../src/records/quantity.ts'
import type { RunEnding } from '../../src/records/test-kind.ts'
import type { LinkOpener } from '../link/link.ts'
import type { RigFacts } from './rig-facts.ts'
import type { BeginRun } from './run-log.ts'

/**
 * One connection to one rig. Commands, the guided sequence and the page drive a bench through this
 * and nothing else. Everything here is on the main thread and light; the disk is the recorder's.
 *
 * Not an emergency stop: `stop` is a message on a serial line. The rig's own watchdog and limits,
 * and a hard-wired emergency stop, stand behind it.
 */
export interface BenchSession {
  /** The port, as a person calls it. */
  readonly describe: string
  readonly state: SessionState
  /** What the rig declared at the last connection; kept while the link is lost. */
  readonly rig: RigFacts
  /** Counted since the connection was made, never estimated. */
  readonly counters: LinkCounters
  /** Run that is being logged now. */
  readonly runId: number | null

  /** Calls back for every event until the returned function is called. Listeners must not throw. */
  listen(listener: (event: LiveEvent) => void): () => void

  /**
   * The operator has read the cautions. The token is good for this connection only: after a
   * reconnection they are shown again. Nothing else lets a rig drive that is not simulated.
   */
  acknowledgeCautions(): CautionsToken

  /**
   * Arms, streams, drives the plan's steps, stops and finishes the run. Rejects before anything is
   * stored, with an `InputFault` when the plan does not suit the rig or the cautions were not
   * acknowledged, with a `WorkFault` when the rig refuses to arm. Once a run exists it resolves, and
   * `ending` says how it went; only a store that refuses its end makes it reject (`WorkFault`, motor
   * safe, and the words say what is stored).
   */
  run(request: RunRequest): Promise<RunOutcome>

  /** Streams without a run (nothing stored, nothing driven) until `idle`; envelopes go to listeners. */
  monitor(rateHz: number): Promise<void>
  /** Ends `monitor`. */
  idle(): Promise<void>

  /** Mean raw counts of every channel over a time at rest, for calibration and zeroes. */
  measure(durationSec: number, rateHz: number): Promise<readonly ChannelReading[]>

  /**
   * Bridge off, disarmed. Sent at once and again until the rig acknowledges it or the link is
   * gone; never asks, never waits for anything else. Resolves when acknowledged.
   */
  stop(reason: string): Promise<void>

  /**
   * Opens the port again after the link was lost. Continues with the same rig (serial number);
   * another rig is refused with an `InputFault` and the session stays lost.
   */
  resume(): Promise<void>

  /** Stops, disarms, closes the port. */
  close(): Promise<void>
}

/**
 * `connectBench(options): Promise<BenchSession>` in connect.ts: opens the port, waits out a board
 * that resets, re-synchronises, identifies. Rejects with an `InputFault` where the port cannot be
 * opened or something else than a rig answers.
 */
export interface SessionOptions {
  readonly open: LinkOpener
  /** Begins a run in the store; null for a session that never logs. */
  readonly recorder: BeginRun | null
  /** The bench is declared fit for more than 60 V DC; false unless given. */
  readonly declaredAbove60Volt?: boolean
  /** Told of everything from the first attempt on. */
  readonly onEvent?: (event: LiveEvent) => void
  readonly signal?: AbortSignal
}

export type SessionState = 'ready' | 'monitoring' | 'measuring' | 'running' | 'lost' | 'closed'

declare const cautionsToken: unique symbol
/** Proof that the cautions were acknowledged on one connection; only a session makes them. */
export interface CautionsToken {
  readonly [cautionsToken]: true
}

export interface RunRequest {
  readonly plan: TestPlan
  readonly motor: { readonly id: number; readonly name: string }
  /** Null is enough for a simulated rig and for a plan that never drives. */
  readonly acknowledged: CautionsToken | null
  /** A short window at the rig's highest rate, logged as a run of its own of the same kind. */
  readonly burst?: BurstRequest
  /** Aborting stops the motor and ends the run `stopped`; the reason's message is kept. */
  readonly signal?: AbortSignal
}

export interface BurstRequest {
  /** The step of the plan, from 0, whose first change of the bridge triggers it. */
  readonly step: number
  readonly samples: number
  /** How many of them lie before the trigger. */
  readonly before: number
}

export interface RunOutcome {
  readonly runId: number
  readonly ending: Exclude<RunEnding, 'open' | 'interrupted' | 'imported'>
  /** Why it ended so, in words for the operator. */
  readonly text: string
  /** Counted within this run. */
  readonly counters: LinkCounters
  /** What stopped the motor, where the rig or the host's watch did. */
  readonly trip: {
    readonly by: 'rig' | 'host'
    readonly code: string
    readonly text: string
  } | null
  /** The run that holds the burst that was asked for; null where nothing came of it. */
  readonly burstRunId?: number | null
}

export interface ChannelReading {
  readonly channel: string
  readonly quantity: Quantity
  readonly meanCounts: number
  readonly standardDeviationCounts: number
  readonly samples: number
  /** The mean by the rig's declared scale and offset, in SI, before any calibration. */
  readonly meanSi: number
}
