import type { LineFault } from './line-fault.ts'
import { BYTE, WIRE } from './wire.ts'

/** Where lines go. Both see `bytes[start … end)` without the line end, valid during the call only. */
export interface LineSink {
  line(bytes: Uint8Array, start: number, end: number): void
  /** A line that cannot be one: too long, or cut off by the end of the stream. */
  reject(fault: LineFault, bytes: Uint8Array, start: number, end: number): void
}

/**
 * Cuts a byte stream into lines (P-3.1): line feed ends a line, one carriage return before it is
 * dropped, empty lines vanish. Memory is bounded: of an overlong line only the first
 * `maxLineBytes` are kept, the rest is counted, and the next line feed starts afresh.
 */
export class LineSplitter {
  private readonly sink: LineSink
  private readonly held: Uint8Array
  private heldBytes = 0
  private skipped = 0

  constructor(sink: LineSink, maxLineBytes: number = WIRE.maxLineBytes) {
    this.sink = sink
    this.held = new Uint8Array(maxLineBytes)
  }

  push(chunk: Uint8Array): void {
    let start = 0
    for (;;) {
      const end = chunk.indexOf(BYTE.lineFeed, start)
      if (end < 0) break
      if (this.heldBytes === 0 && this.skipped === 0) this.finish(chunk, start, end)
      else {
        this.hold(chunk, start, end)
        this.finishHeld()
      }
      start = end + 1
    }
    if (start < chunk.length) this.hold(chunk, start, chunk.length)
  }

  /**
   * One whole line with its line feed, or a piece of a line: what somebody else has cut already need
   * not be searched again.
   */
  pushPiece(bytes: Uint8Array, start: number, end: number): void {
    const isWhole = end > start && bytes[end - 1] === BYTE.lineFeed
    if (isWhole && this.heldBytes === 0 && this.skipped === 0) this.finish(bytes, start, end - 1)
    else this.push(bytes.subarray(start, end))
  }

  /** The stream has ended: what is left is not a line. */
  end(): void {
    const bytes = this.heldBytes + this.skipped
    if (bytes > 0) this.sink.reject({ code: 'truncated', bytes }, this.held, 0, this.heldBytes)
    this.forget()
  }

  /** Drops a partial line without counting it, as after the port was opened anew. */
  forget(): void {
    this.heldBytes = 0
    this.skipped = 0
  }

  private hold(chunk: Uint8Array, start: number, end: number): void {
    const taken = Math.min(end - start, this.held.length - this.heldBytes)
    this.held.set(chunk.subarray(start, start + taken), this.heldBytes)
    this.heldBytes += taken
    this.skipped += end - start - taken
  }

  private finishHeld(): void {
    const bytes = this.heldBytes + this.skipped
    if (this.skipped > 0) {
      this.sink.reject({ code: 'too-long', bytes }, this.held, 0, this.heldBytes)
    } else this.finish(this.held, 0, this.heldBytes)
    this.forget()
  }

  private finish(bytes: Uint8Array, start: number, lineEnd: number): void {
    const end =
      lineEnd > start && bytes[lineEnd - 1] === BYTE.carriageReturn ? lineEnd - 1 : lineEnd
    if (end === start) return
    if (lineEnd - start + 1 > this.held.length) {
      this.sink.reject({ code: 'too-long', bytes: lineEnd - start }, bytes, start, end)
    } else this.sink.line(bytes, start, end)
  }
}
