export const TRIP_CODES = [
  'over-current',
  'over-voltage',
  'over-speed',
  'bus-voltage',
  'stalled',
  'slip',
  'no-motion',
  'over-temperature',
  'link-silent',
  'samples-lost',
] as const

export type TripCode = (typeof TRIP_CODES)[number]

/** A reason to open the bridge at once. */
export interface Trip {
  readonly code: TripCode
  /** Rig time of the sample that showed it. */
  readonly timeSec: number
  readonly value: number
  readonly limit: number
  /** One line for the operator: what was seen, the limit, what to check. */
  readonly text: string
}
