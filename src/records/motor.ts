/** A design. Motors of one type are meant to be alike; limits belong to a type. */
export interface MotorType {
  readonly id: number
  /** Unique. */
  readonly name: string
  readonly maker: string
  readonly notes: string
  /** ISO 8601, UTC. */
  readonly createdAt: string
}

/** One specimen of a type, or a motor of which no type is known. */
export interface Motor {
  readonly id: number
  /** Unique among motors that are not deleted. */
  readonly name: string
  readonly typeId: number | null
  readonly serialNumber: string
  readonly lot: string
  /** What the plate says, as read. */
  readonly nameplate: string
  readonly notes: string
  readonly createdAt: string
  /** Deleted with undo: kept, but not listed. */
  readonly deletedAt: string | null
}
