import type { Quantity } from '../records/quantity.ts'

/** What a connected rig declared, as far as planning and watching need it. SI; null where not declared. */
export interface RigFacts {
  readonly model: string
  readonly serialNumber: string
  /** The rig says that there is no motor behind it: prompts may be answered by default, waits shortened. */
  readonly simulated: boolean
  readonly channels: readonly Quantity[]
  /** A line a channel for the operator to compare with what is on the bench: scale, range, shunt. */
  readonly channelTexts: readonly string[]
  /** Sample rates that the rig offers and the link carries, any order. */
  readonly ratesHz: readonly number[]
  /** The bridge can drive in both directions. */
  readonly reversible: boolean
  /** Limits that the rig enforces by itself, whatever the host says. */
  readonly limits: RigLimits
  /** Bus voltage of the supply as the rig sees it. */
  readonly supplyVolt: number | null
  /** Air temperature as the rig sees it. */
  readonly ambientCelsius: number | null
  /** White noise on one sample of current and speed. */
  readonly noiseAmp: number | null
  readonly noiseRadPerSec: number | null
  /** Switching frequency of the bridge; null for a linear output. */
  readonly pwmHz: number | null
}

export interface RigLimits {
  readonly driveVolt: number
  readonly currentAmp: number
  readonly speedRadPerSec: number | null
  readonly busVolt: number | null
  /** Longest time at standstill with current before the rig opens the bridge. */
  readonly stallSec: number | null
  /** Longest duration that one drive command may carry. */
  readonly longestDriveSec: number | null
}
