/**
 * Lines that wait for the wire. Answers and events go before samples (P-3.8); a line that has begun
 * is finished first. For samples there is a capacity; who sends them asks for room and drops what has
 * none (P-6.7).
 */
export class OutputQueue {
  private readonly capacityBytes: number
  private urgent: Uint8Array[] = []
  private samples: Uint8Array[] = []
  private sampleBytes = 0
  /** Lines at the end of `samples` that may not be overtaken by what comes after them. */
  private barriers = 0
  private readonly isBarrier = new WeakSet<Uint8Array>()
  private current: Uint8Array | null = null
  private sent = 0

  constructor(capacityBytes: number) {
    this.capacityBytes = capacityBytes
  }

  hasRoomFor(bytes: number): boolean {
    return this.sampleBytes + bytes <= this.capacityBytes
  }

  /** Answers and events. */
  pushUrgent(line: Uint8Array): void {
    if (this.barriers > 0) this.pushAfterSamples(line)
    else this.urgent.push(line)
  }

  /** An answer that has to come after all samples so far (P-6.10), and before everything later. */
  pushAfterSamples(line: Uint8Array): void {
    this.isBarrier.add(line)
    this.barriers++
    this.samples.push(line)
    this.sampleBytes += line.length
  }

  pushSamples(line: Uint8Array): void {
    this.samples.push(line)
    this.sampleBytes += line.length
  }

  /**
   * Up to `limit` bytes for the wire. `filler` gives further lines once nothing else waits (the pieces
   * of an upload), or null.
   */
  take(limit: number, filler: () => Uint8Array | null): Uint8Array {
    const parts: Uint8Array[] = []
    let size = 0
    while (size < limit) {
      if (this.current === null) {
        this.current = this.next() ?? filler()
        this.sent = 0
        if (this.current === null) break
      }
      const part = this.current.subarray(this.sent, this.sent + limit - size)
      parts.push(part)
      size += part.length
      this.sent += part.length
      if (this.sent === this.current.length) this.current = null
    }
    const bytes = new Uint8Array(size)
    let at = 0
    for (const part of parts) {
      bytes.set(part, at)
      at += part.length
    }
    return bytes
  }

  private next(): Uint8Array | null {
    if (this.urgent.length > 0) return this.urgent.shift()!
    const line = this.samples.shift()
    if (line === undefined) return null
    this.sampleBytes -= line.length
    if (this.isBarrier.has(line)) this.barriers--
    return line
  }
}
