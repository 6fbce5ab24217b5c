import type { ChannelEnvelope } from '../../src/contract/live.ts'
import type { Quantity } from '../../src/records/quantity.ts'

/** As many a second as a screen shows. */
export const ENVELOPES_PER_SEC = 60

export interface Envelope {
  readonly fromSec: number
  readonly toSec: number
  readonly channels: readonly ChannelEnvelope[]
}

/** Reduces samples to lowest, mean and highest in equal slots of rig time. Allocates once a slot. */
export class Envelopes {
  readonly #quantities: readonly Quantity[]
  readonly #emit: (envelope: Envelope) => void
  readonly #low: Float64Array
  readonly #high: Float64Array
  readonly #sum: Float64Array
  #count = 0
  #fromSec = 0
  #toSec = 0

  constructor(quantities: readonly Quantity[], emit: (envelope: Envelope) => void) {
    this.#quantities = quantities
    this.#emit = emit
    this.#low = new Float64Array(quantities.length)
    this.#high = new Float64Array(quantities.length)
    this.#sum = new Float64Array(quantities.length)
  }

  /** `columns[channel][sample]`, the first `count` of each. */
  add(timeSec: Float64Array, columns: readonly Float64Array[], count: number): void {
    for (let from = 0; from < count; ) {
      if (this.#count === 0) this.#begin(timeSec[from]!)
      const slotEnd = this.#fromSec + 1 / ENVELOPES_PER_SEC
      let to = from
      while (to < count && timeSec[to]! < slotEnd) to++
      for (let c = 0; c < columns.length; c++) this.#addColumn(c, columns[c]!, from, to)
      if (to > from) this.#toSec = timeSec[to - 1]!
      this.#count += to - from
      if (to < count) this.flush()
      from = to
    }
  }

  /** What has gathered, however little. */
  flush(): void {
    if (this.#count === 0) return
    const channels = this.#quantities.map((quantity, c) => ({
      quantity,
      low: this.#low[c]!,
      mean: this.#sum[c]! / this.#count,
      high: this.#high[c]!,
    }))
    this.#count = 0
    this.#emit({ fromSec: this.#fromSec, toSec: this.#toSec, channels })
  }

  #begin(fromSec: number): void {
    this.#fromSec = fromSec
    this.#low.fill(Number.POSITIVE_INFINITY)
    this.#high.fill(Number.NEGATIVE_INFINITY)
    this.#sum.fill(0)
  }

  #addColumn(channel: number, values: Float64Array, from: number, to: number): void {
    let low = this.#low[channel]!
    let high = this.#high[channel]!
    let sum = 0
    for (let i = from; i < to; i++) {
      const value = values[i]!
      if (value < low) low = value
      if (value > high) high = value
      sum += value
    }
    this.#low[channel] = low
    this.#high[channel] = high
    this.#sum[channel]! += sum
  }
}
