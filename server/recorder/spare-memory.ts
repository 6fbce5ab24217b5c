/** No block of samples grows beyond this: the worker gets what is moved to it in handy pieces. */
export const BLOCK_BYTES = 64 * 1024
/** Four megabytes: what waits while a disk is slow. */
const MOST_SPARE = 64

/**
 * Memory of full-grown blocks that the worker has stored and handed back. Fresh memory must be cleared
 * and mapped, which costs as much as decoding what is to be written there.
 */
export class SpareMemory {
  readonly #spare: ArrayBuffer[] = []

  /** `BLOCK_BYTES` of memory, with whatever stood there before where it was used. */
  take(): ArrayBuffer {
    return this.#spare.pop() ?? new ArrayBuffer(BLOCK_BYTES)
  }

  /** Buffers of another size are let go. */
  put(buffers: readonly ArrayBuffer[]): void {
    for (const buffer of buffers) {
      if (buffer.byteLength === BLOCK_BYTES && this.#spare.length < MOST_SPARE) {
        this.#spare.push(buffer)
      }
    }
  }
}
