/** A band for one quantity of a type. At least one side is set. */
export interface Limit {
  /** Name of a fitted parameter, of a derived quantity, or of an entry typed by hand. */
  readonly quantity: string
  readonly unit: string
  /** `absolute`: in the unit. `percent`: of the reference value. `sigma`: of the reference pool. */
  readonly basis: 'absolute' | 'percent' | 'sigma'
  readonly lower: number | null
  readonly upper: number | null
}

/**
 * The limits of a type from one date on. Never changed once stored: the next set takes its place
 * and the old ones stay, with who set them and why.
 */
export interface LimitSet {
  readonly id: number
  readonly typeId: number
  readonly limits: readonly Limit[]
  readonly referenceTemperatureCelsius: number
  /** The approved motor, or the pool of several, that the limits refer to. */
  readonly referenceMotorIds: readonly number[]
  readonly author: string
  readonly reason: string
  /** ISO 8601, UTC. */
  readonly setAt: string
}
