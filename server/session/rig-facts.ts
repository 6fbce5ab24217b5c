import type { RigIdentity } from '../../src/records/bench.ts'
import type { Channel } from '../../src/records/channel.ts'

/** What a rig declared about itself when the session connected, in SI. */
export interface RigFacts extends RigIdentity {
  /** In the order in which a sample holds them. */
  readonly channels: readonly Channel[]
  /** Rates at which every channel can be streamed, ascending. */
  readonly ratesHz: readonly number[]
  readonly limits: RigLimits
}

/** Limits that the rig enforces by itself; null where it does not declare one. */
export interface RigLimits {
  readonly driveVolt: number
  readonly currentAmp: number
  readonly busVolt: number | null
  readonly speedRadPerSec: number | null
  readonly stallSec: number | null
  readonly longestDriveSec: number
  readonly watchdogSec: number
}
