import type { BridgeMode } from '../../protocol/bridge.ts'
import type { ChannelDeclaration } from '../../protocol/channel.ts'
import type { Identity, LimitsDeclaration } from '../../protocol/declaration.ts'

/**
 * Bridge, sensors and protection as the firmware of a rig meets them. Time is the hardware's own, in
 * seconds, and only moves forward.
 *
 * Firmware and hardware take turns: the firmware lets time run to the next moment at which it has
 * something to do, then samples, or changes the bridge.
 */
export interface Hardware {
  readonly identity: Identity
  readonly limits: LimitsDeclaration
  /** Temperature of the bridge at which it is opened; Infinity where it is not measured. */
  readonly boardLimitCelsius: number
  /** Sample periods, the shortest first; each a multiple of `limits.burst.periodNs` where there is one. */
  readonly periodsNs: readonly number[]

  /** The channels as they measure at a sample period, and in a burst. */
  channelsAt(periodNs: number): readonly ChannelDeclaration[]
  readonly burstChannels: readonly ChannelDeclaration[]
  /** Begins to measure at the period from now on. */
  setSamplePeriod(periodNs: number): void
  /** Begins, and ends, to measure at the burst's period as well. */
  setBurst(on: boolean): void

  /** Changes the bridge now. `setVolt` is the mean voltage while driving, else 0. */
  setBridge(mode: BridgeMode, setVolt: number): void

  /**
   * Lets time run to `toSec`, or to the first moment at which a guard is passed, and says which one
   * and the value that passed it. The firmware opens the bridge then and goes on from `timeSec`.
   */
  advance(toSec: number, guards: Guards): GuardStop | null
  readonly timeSec: number

  /** One reading of every channel now, as counts within the channel's range, into `counts[at …]`. */
  sample(counts: Int32Array, at: number): void
  sampleBurst(counts: Int32Array, at: number): void

  /** What protection and health report see now. */
  readonly busVolt: number
  readonly speedRadPerSec: number
  readonly boardCelsius: number | null

  /** Index pulses of the encoder since the last call; `count` is the position channel's reading. */
  takeIndexPulses(): readonly { readonly timeSec: number; readonly count: number }[]
  /** The position channel reads 0 here from now on. False where there is none. */
  markZero(): boolean
}

/** Magnitudes at which the protection reacts; Infinity where it does not watch. */
export interface Guards {
  readonly currentAmp: number
  readonly speedRadPerSec: number
  readonly busHighVolt: number
}

export interface GuardStop {
  readonly timeSec: number
  readonly cause: 'over-current' | 'over-speed' | 'bus-high'
  /** Signed. */
  readonly value: number
}
