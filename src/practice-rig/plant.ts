import type { BridgeMode } from '../protocol/bridge.ts'
import type { ChannelDeclaration } from '../protocol/channel.ts'

/** How the shaft is held. `slipping`: a clamp that gives way at a torque, to try the watch. */
export type Shaft =
  | { readonly hold: 'free' }
  | { readonly hold: 'locked'; readonly angleRad: number }
  | { readonly hold: 'slipping'; readonly angleRad: number; readonly slipNm: number }
  /** Turned from outside at a set speed, whatever torque that takes. */
  | { readonly hold: 'driven'; readonly speedRadPerSec: number }

export interface PlantEdge {
  readonly timeSec: number
  readonly mode: BridgeMode
  readonly setVolt: number
}

/** The true state, for checks and for what a practice rig shows of itself; no sensor is between. */
export interface PlantState {
  readonly timeSec: number
  readonly currentAmp: number
  readonly terminalVolt: number
  readonly speedRadPerSec: number
  readonly angleRad: number
  readonly busVolt: number
  readonly windingCelsius: number
  readonly housingCelsius: number
  readonly boardCelsius: number
  readonly shaftTorqueNm: number
  readonly bridge: BridgeMode
}

/** Running totals since the plant was made, in joules. */
export interface PlantEnergy {
  readonly input: number
  readonly copper: number
  readonly contact: number
  readonly friction: number
}

/** All channels of the bench read together once a period. */
export interface Sampler {
  readonly periodSec: number
  readonly channels: readonly ChannelDeclaration[]
  /** One reading of every channel at the plant's present time. */
  read(counts: Int32Array, at: number): void
}

/** Magnitudes at which `advance` stops; Infinity where nobody watches. */
export interface PlantGuards {
  readonly currentAmp: number
  readonly speedRadPerSec: number
  readonly busHighVolt: number
}

export interface PlantStop {
  readonly timeSec: number
  readonly cause: 'over-current' | 'over-speed' | 'bus-high'
  /** Signed. */
  readonly value: number
}

export const NO_GUARDS: PlantGuards = {
  currentAmp: Number.POSITIVE_INFINITY,
  speedRadPerSec: Number.POSITIVE_INFINITY,
  busHighVolt: Number.POSITIVE_INFINITY,
}

/** A practice motor on its bench. Time only moves in `advance`. */
export interface Plant {
  readonly timeSec: number
  /** Acts at the present time and is noted as an edge. `setVolt`: mean voltage while driving. */
  setBridge(mode: BridgeMode, setVolt: number): void
  setShaft(shaft: Shaft): void
  /** Added inertia and constant torque from outside (positive drives the shaft forward). */
  setLoad(inertiaKgM2: number, torqueNm: number): void
  setAmbient(celsius: number): void
  setTemperatures(windingCelsius: number, housingCelsius: number): void
  /** Takes the place of the sampler before. */
  setSamplePeriod(periodSec: number): Sampler
  /** A second sampler beside the first, for a burst; null ends it. */
  setBurstPeriod(periodSec: number | null): Sampler | null
  /** The position channel counts from here. */
  markZero(): void
  /** Moves on to `toSec`, or to the first step in which a guard is passed. */
  advance(toSec: number, guards: PlantGuards): PlantStop | null
  /**
   * Jumps on to `toSec` with the current settled and the shaft at rest (locked, or the bridge off): only heat
   * moves. Behind a linear supply. Samplers are gone afterwards; set the period anew.
   */
  leap(toSec: number): void
  state(): PlantState
  energy(): PlantEnergy
  /** Since the last call, oldest first. */
  takeEdges(): PlantEdge[]
  /** Passes of the shaft's zero mark since the last call; `count`: what the encoder stood at. */
  takeIndexPulses(): { readonly timeSec: number; readonly count: number }[]
}
