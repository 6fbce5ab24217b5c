import type { SampleBlock } from '../store/run-record.ts'
import { BLOCK_BYTES, type SpareMemory } from './spare-memory.ts'

/** Spacing so even is one spacing; far below the microsecond of a rig's time stamp. */
const EVEN_SEC = 1e-9

/**
 * Consecutive blocks gathered into one: a line of a few samples would otherwise cross to the worker as an
 * object and a buffer of its own, which costs more than everything else that is done with it.
 */
export class GrowingBlock {
  readonly #first: SampleBlock
  readonly #channels: number
  readonly #spare: SpareMemory
  #counts: Int16Array | Int32Array
  #samples: number

  /**
   * Copies the counts. The block holds one sample or more.
   * @param room counts to make room for at once: as many as the block before took
   * @param spare where memory for a full-grown block comes from
   */
  constructor(first: SampleBlock, room: number, spare: SpareMemory) {
    this.#first = first
    this.#channels = first.counts.length / first.sampleCount
    this.#spare = spare
    this.#samples = first.sampleCount
    this.#counts = this.#memory(Math.max(first.counts.length, room))
    this.#counts.set(first.counts)
  }

  /** Counts taken in. */
  get used(): number {
    return this.#samples * this.#channels
  }

  /** Copies the counts of a block that goes on where this one ends. False where it does not, or is too much. */
  append(block: SampleBlock): boolean {
    const { firstSequence, startSec, intervalSec } = this.#first
    const samples = this.#samples
    const { used } = this
    const needed = used + block.counts.length
    if (
      block.firstSequence !== firstSequence + samples ||
      block.intervalSec !== intervalSec ||
      Math.abs(startSec + samples * intervalSec - block.startSec) > EVEN_SEC ||
      block.counts.BYTES_PER_ELEMENT !== this.#counts.BYTES_PER_ELEMENT ||
      needed * this.#counts.BYTES_PER_ELEMENT > BLOCK_BYTES
    ) {
      return false
    }
    if (needed > this.#counts.length) this.#grow(needed)
    this.#counts.set(block.counts, used)
    this.#samples += block.sampleCount
    return true
  }

  /** As one; nothing is to be appended any more. */
  get block(): SampleBlock {
    const counts = this.#counts.subarray(0, this.used)
    return { ...this.#first, sampleCount: this.#samples, counts }
  }

  #grow(needed: number): void {
    const counts = this.#counts
    const most = BLOCK_BYTES / counts.BYTES_PER_ELEMENT
    this.#counts = this.#memory(Math.min(most, Math.max(needed, 4 * counts.length)))
    this.#counts.set(counts.subarray(0, this.used))
  }

  /** Room for so many counts or a few more, whatever stands there. */
  #memory(length: number): Int16Array | Int32Array {
    const counts = this.#first.counts instanceof Int16Array ? Int16Array : Int32Array
    const bytes = length * counts.BYTES_PER_ELEMENT
    const isFullGrown = bytes > BLOCK_BYTES / 2 && bytes <= BLOCK_BYTES
    return new counts(isFullGrown ? this.#spare.take() : new ArrayBuffer(bytes))
  }
}
