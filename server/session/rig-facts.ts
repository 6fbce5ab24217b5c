import type { Quantity } from '../../src/records/quantity.ts'
import type { ChannelTraits } from '../../src/records/recording.ts'

/** What a rig declared about itself when the session connected, in SI. */
export interface RigFacts {
  readonly model: string
  readonly serialNumber: string
  readonly firmware: string
  readonly protocolVersion: string
  readonly simulated: boolean
  readonly channels: readonly RigChannel[]
  /** Highest rate at which every channel can be streamed. */
  readonly highestRateHz: number
  readonly limits: RigLimits
}

export interface RigChannel {
  readonly name: string
  readonly quantity: Quantity
  /** value = scale × counts + offset. */
  readonly scale: number
  readonly offset: number
  readonly traits: ChannelTraits
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
