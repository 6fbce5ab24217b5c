/** A set of motors that are judged together: a delivery, a lot. */
export interface Batch {
  readonly id: number
  /** Unique. */
  readonly name: string
  readonly typeId: number | null
  readonly motorIds: readonly number[]
  readonly notes: string
  readonly createdAt: string
}

/** How many samples in a row may make a subgroup of control charts. */
export const SUBGROUP_SIZES = { least: 2, most: 10 } as const
