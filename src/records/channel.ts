import type { Quantity } from './quantity.ts'
import type { ChannelTraits } from './recording.ts'

/** One column of raw counts as a rig declared it, before any calibration. */
export interface Channel {
  /** As the rig calls it. */
  readonly name: string
  readonly quantity: Quantity
  /** Reading in the quantity's unit = scale × counts + offset. */
  readonly scale: number
  readonly offset: number
  readonly traits: ChannelTraits
}
