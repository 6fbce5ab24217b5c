/**
 * How the readings of one channel relate to the true quantity:
 *   true = gain × (reading − zero)
 * `reading` is scale × counts + offset as the rig declared them, in the quantity's SI unit; `zero` is
 * the reading while the quantity is absent, in the same unit; `gain` has no unit.
 * Never changed once stored: a later one takes its place, and runs remember which was in force.
 */
export interface Calibration {
  readonly id: number
  readonly benchId: number
  readonly channel: string
  readonly gain: number
  readonly zero: number
  /** Relative standard uncertainty of the gain. */
  readonly gainUncertainty: number
  /** Standard uncertainty of the zero, in the channel's unit. */
  readonly zeroUncertainty: number
  readonly method: CalibrationMethod
  readonly references: readonly ReferenceInstrument[]
  readonly points: readonly CalibrationPoint[]
  readonly author: string
  readonly notes: string
  /** ISO 8601, UTC. */
  readonly performedAt: string
  /** After this date a run says that its calibration had expired; null where none was set. */
  readonly validUntil: string | null
}

export const CALIBRATION_METHODS = ['reference-instruments', 'zero-run', 'entered'] as const

export type CalibrationMethod = (typeof CALIBRATION_METHODS)[number]

export interface ReferenceInstrument {
  readonly description: string
  readonly serialNumber: string
}

export interface CalibrationPoint {
  /** What the reference instrument showed. */
  readonly reference: number
  /** What the channel read, before calibration. */
  readonly reading: number
}
