import type { Quantity } from './quantity.ts'

/** Codes of the bridge column. `unknown` where the recording does not say. */
export const BRIDGE = { drive: 0, coast: 1, brake: 2, unknown: 255 } as const

export type BridgeState = keyof typeof BRIDGE

/** How a channel measures; what is not known is null. All in the channel's SI unit. */
export interface ChannelTraits {
  /** Standard deviation of the white noise on one sample. */
  readonly noise: number | null
  /** Step between neighbouring codes. */
  readonly resolution: number | null
  /** Readings at or beyond these are saturated. */
  readonly rangeLow: number | null
  readonly rangeHigh: number | null
  /** Length of the averaging window that ends at the time stamp; 0 for an instantaneous reading. */
  readonly apertureSec: number
  /** The reading belongs to a moment this long before its time stamp (beyond half the aperture). */
  readonly delaySec: number
  /** Calibration, type B: relative standard uncertainty of the gain, standard uncertainty of the zero. */
  readonly gainUncertainty: number
  readonly zeroUncertainty: number
}

export const PLAIN_TRAITS: ChannelTraits = {
  noise: null,
  resolution: null,
  rangeLow: null,
  rangeHigh: null,
  apertureSec: 0,
  delaySec: 0,
  gainUncertainty: 0,
  zeroUncertainty: 0,
}

/** The bridge changed state, or its set voltage jumped, at a time the rig logged. */
export interface BridgeEdge {
  readonly timeSec: number
  readonly state: BridgeState
  /** Average voltage that the bridge was told to apply after the edge; null where not known. */
  readonly setVolt: number | null
}

/**
 * The samples of one run as columns of equal length, calibrated, in SI.
 * NaN in a column is a gap. `timeSec` counts from the start of the run and never decreases;
 * null where each row is one steady reading (a hand-read table).
 */
export interface Recording {
  readonly sampleCount: number
  readonly timeSec: Float64Array | null
  readonly columns: Readonly<Partial<Record<Quantity, Float64Array>>>
  /** `BRIDGE` codes, one a sample; null where the phases have to be inferred. */
  readonly bridge: Uint8Array | null
  readonly edges: readonly BridgeEdge[]
  readonly traits: Readonly<Partial<Record<Quantity, ChannelTraits>>>
}
