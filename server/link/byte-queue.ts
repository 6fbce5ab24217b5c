/**
 * Turns arriving chunks into an async iterable. A reader that falls behind is not punished here:
 * `size` tells the producer when to pause.
 */
export class ByteQueue {
  #chunks: Uint8Array[] = []
  #size = 0
  #ending: { error: Error | null } | null = null
  #wake: (() => void) | null = null
  #reading = false

  /** Bytes that wait to be read. */
  get size(): number {
    return this.#size
  }

  get ended(): boolean {
    return this.#ending !== null
  }

  push(chunk: Uint8Array): void {
    if (this.#ending !== null || chunk.length === 0) return
    this.#chunks.push(chunk)
    this.#size += chunk.length
    this.#wake?.()
  }

  /** What has arrived is still read; then the iterable ends, or throws the error. First call counts. */
  end(error: Error | null): void {
    if (this.#ending !== null) return
    this.#ending = { error }
    this.#wake?.()
  }

  /**
   * Calls `onDone` after each chunk that its reader is done with.
   * @throws RangeError where somebody reads already: two readers would each get half.
   */
  async *read(
    signal: AbortSignal,
    onDone: () => void = () => {},
  ): AsyncGenerator<Uint8Array, void, undefined> {
    if (this.#reading)
      throw new RangeError('a link has one reader at a time; this one is being read')
    this.#reading = true
    const onAbort = () => this.#wake?.()
    signal.addEventListener('abort', onAbort)
    try {
      while (!signal.aborted) {
        const chunk = this.#chunks.shift()
        if (chunk !== undefined) {
          this.#size -= chunk.length
          yield chunk
          onDone()
        } else if (this.#ending !== null) {
          if (this.#ending.error !== null) throw this.#ending.error
          return
        } else {
          await new Promise<void>(resolve => {
            this.#wake = resolve
          })
          this.#wake = null
        }
      }
    } finally {
      signal.removeEventListener('abort', onAbort)
      this.#reading = false
    }
  }
}
