import type { Extent } from './envelope.ts'

/**
 * Equal slots of x (time, or row numbers) that gather samples and envelopes of samples for a picture a
 * given number of points wide.
 */
export class Slots {
  readonly width: number
  readonly #from: number
  readonly #low: Float64Array
  readonly #high: Float64Array
  readonly #sum: Float64Array
  readonly #count: Float64Array
  /** Something lay here, if only a gap in the values. */
  readonly #touched: Uint8Array

  constructor(from: number, to: number, slots: number) {
    if (!(to > from)) throw new RangeError(`to = ${to}; must be above from = ${from}`)
    if (!Number.isInteger(slots) || slots < 1) {
      throw new RangeError(`slots = ${slots}; must be an integer >= 1`)
    }
    this.#from = from
    this.width = (to - from) / slots
    this.#low = new Float64Array(slots).fill(Number.POSITIVE_INFINITY)
    this.#high = new Float64Array(slots).fill(Number.NEGATIVE_INFINITY)
    this.#sum = new Float64Array(slots)
    this.#count = new Float64Array(slots)
    this.#touched = new Uint8Array(slots)
  }

  #slotAt(x: number): number {
    const slot = Math.floor((x - this.#from) / this.width)
    return Math.min(Math.max(slot, 0), this.#count.length - 1)
  }

  add(x: number, value: number): void {
    const slot = this.#slotAt(x)
    this.#touched[slot] = 1
    if (Number.isNaN(value)) return
    if (value < this.#low[slot]!) this.#low[slot] = value
    if (value > this.#high[slot]!) this.#high[slot] = value
    this.#sum[slot]! += value
    this.#count[slot]! += 1
  }

  /** Many samples at once, which together are shorter than a slot: they count at their middle. */
  addExtent(middle: number, extent: Extent): void {
    const slot = this.#slotAt(middle)
    this.#touched[slot] = 1
    if (extent.count === 0) return
    if (extent.low < this.#low[slot]!) this.#low[slot] = extent.low
    if (extent.high > this.#high[slot]!) this.#high[slot] = extent.high
    this.#sum[slot]! += extent.count * extent.mean
    this.#count[slot]! += extent.count
  }

  /** Nothing is known between the two: slots that stay empty there are a gap. */
  addGap(from: number, to: number): void {
    for (let slot = this.#slotAt(from); slot <= this.#slotAt(to); slot++) this.#touched[slot] = 1
  }

  /**
   * The slots in order: NaN where a gap is, nothing at all where samples are merely sparse (a line may
   * be drawn across).
   */
  toColumns(): { x: Float64Array; low: Float64Array; mean: Float64Array; high: Float64Array } {
    const used = this.#touched.reduce((sum, touched) => sum + touched, 0)
    const out = {
      x: new Float64Array(used),
      low: new Float64Array(used),
      mean: new Float64Array(used),
      high: new Float64Array(used),
    }
    let at = 0
    for (let slot = 0; slot < this.#touched.length; slot++) {
      if (!this.#touched[slot]) continue
      const count = this.#count[slot]!
      out.x[at] = this.#from + (slot + 0.5) * this.width
      out.low[at] = count > 0 ? this.#low[slot]! : Number.NaN
      out.mean[at] = count > 0 ? this.#sum[slot]! / count : Number.NaN
      out.high[at] = count > 0 ? this.#high[slot]! : Number.NaN
      at++
    }
    return out
  }
}
