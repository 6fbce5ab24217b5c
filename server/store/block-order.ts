import type { SampleBlock } from './run-record.ts'

/** Holds blocks of counts to what a run can store: whole samples, forward in sequence and in time. */
export class BlockOrder {
  readonly #channels: number
  #nextSequence: number | null = null
  #lastSec = Number.NEGATIVE_INFINITY

  constructor(channels: number) {
    this.#channels = channels
  }

  /** Returns how many sequence numbers are missing before the block; throws a `RangeError` if it does not fit. */
  accept(block: SampleBlock): number {
    const { firstSequence, startSec, intervalSec, sampleCount, counts } = block
    if (this.#channels === 0) throw new RangeError('raw counts in a run without channels')
    if (!Number.isInteger(sampleCount) || counts.length !== sampleCount * this.#channels) {
      throw new RangeError(
        `counts.length = ${counts.length}; must be sampleCount ${sampleCount} × ${this.#channels}`,
      )
    }
    if (!(intervalSec > 0)) throw new RangeError(`intervalSec = ${intervalSec}; must be above 0`)
    if (!Number.isFinite(startSec) || startSec <= this.#lastSec) {
      throw new RangeError(`startSec = ${startSec}; must be after ${this.#lastSec}`)
    }
    const expected = this.#nextSequence ?? firstSequence
    if (!Number.isInteger(firstSequence) || firstSequence < expected) {
      throw new RangeError(`firstSequence = ${firstSequence}; must be an integer >= ${expected}`)
    }
    if (sampleCount === 0) return 0
    this.#nextSequence = firstSequence + sampleCount
    this.#lastSec = startSec + (sampleCount - 1) * intervalSec
    return firstSequence - expected
  }
}
