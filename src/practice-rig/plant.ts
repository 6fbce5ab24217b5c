import type { BridgeState, ChannelTraits } from '../records/recording.ts'
import type { Quantity } from '../records/quantity.ts'

/** How the shaft is held. `slipping`: a clamp that gives way at a torque, to try the watch. */
export type Shaft =
  | { readonly hold: 'free' }
  | { readonly hold: 'locked'; readonly angleRad: number }
  | { readonly hold: 'slipping'; readonly angleRad: number; readonly slipNm: number }
  /** Turned from outside at a set speed, whatever torque that takes. */
  | { readonly hold: 'driven'; readonly speedRadPerSec: number }

/** How to read a channel's counts: value = offset + scale × counts. */
export interface ChannelDeclaration {
  readonly quantity: Quantity
  readonly scale: number
  readonly offset: number
  readonly countLow: number
  readonly countHigh: number
  /** Counts run over from countHigh to countLow (position); else they stop there. */
  readonly wraps: boolean
  readonly traits: ChannelTraits
}

/** Called for each sample; `counts` (one a channel) is reused, copy what is kept. */
export type SampleSink = (timeMicros: number, counts: Int32Array, bridge: number) => void

export interface Sampler {
  readonly rateHz: number
  readonly channels: readonly ChannelDeclaration[]
  stop(): void
}

export interface PlantEdge {
  readonly timeMicros: number
  readonly state: Exclude<BridgeState, 'unknown'>
  readonly setVolt: number
}

export interface PlantTrip {
  readonly timeMicros: number
  readonly cause: 'over-current' | 'over-voltage'
  /** The current or bus voltage that tripped. */
  readonly value: number
}

/** The true state, for checks and for what a rig shows about itself; no sensor is between. */
export interface PlantState {
  readonly timeMicros: number
  readonly currentAmp: number
  readonly terminalVolt: number
  readonly speedRadPerSec: number
  readonly angleRad: number
  readonly busVolt: number
  readonly windingCelsius: number
  readonly housingCelsius: number
  readonly shaftTorqueNm: number
  readonly bridge: Exclude<BridgeState, 'unknown'>
}

/** A simulated motor on a simulated bench. Time only moves in `advanceTo`. */
export interface Plant {
  readonly timeMicros: number
  /** Acts at the plant's present time and is logged as an edge. */
  setBridge(state: Exclude<BridgeState, 'unknown'>, setVolt?: number): void
  setShaft(shaft: Shaft): void
  /** Added inertia and constant external torque (positive drives the shaft forward). */
  setLoad(inertiaKgM2: number, torqueNm: number): void
  setAmbient(celsius: number): void
  setWindingTemperature(celsius: number): void
  /** Comparators: the bridge goes to coast in the step in which a limit is passed. null: none. */
  setTrips(currentAmp: number | null, busVolt: number | null): void
  /** Starts sampling all channels; the first sample comes one period after the present time. */
  sample(rateHz: number, sink: SampleSink): Sampler
  advanceTo(timeMicros: number): void
  state(): PlantState
  /** Edges since the last call, oldest first. */
  takeEdges(): PlantEdge[]
  takeTrip(): PlantTrip | null
}
