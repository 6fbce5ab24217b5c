import { ReadlineParser } from '@serialport/parser-readline'
import { BYTE, WIRE } from '../../src/protocol/wire.ts'

const BLOCK = 0x42 // B
const DECIMALS = 0x53 // S
const UPLOAD = 0x55 // U

/** A whole line with its line feed, or a piece of one: `bytes[start … end)`, valid during the call only. */
export type TakeLine = (bytes: Uint8Array, start: number, end: number) => void

/**
 * Cuts what a link brings into lines: answers, declarations and events through `ReadlineParser`,
 * samples (the bulk of what comes) as bytes without becoming a string and bytes again.
 * Whole lines only reach `take`, in the order in which they came, each with its line feed; of a
 * line that never ends no more than a line's worth is held at any time.
 */
export class LineSorter {
  readonly #take: TakeLine
  readonly #text = new ReadlineParser({ delimiter: '\n', encoding: 'latin1' })
  readonly #held = new Uint8Array(WIRE.maxLineBytes)
  #heldBytes = 0
  /** The line at hand is longer than a line may be and goes on to the reader as it comes. */
  #overlong = false

  constructor(take: TakeLine) {
    this.#take = take
    this.#text.on('data', (line: string) => {
      const bytes = Buffer.from(`${line}\n`, 'latin1')
      take(bytes, 0, bytes.length)
    })
  }

  push(chunk: Uint8Array): void {
    // A buffer finds its line feeds several times faster than an array of bytes does.
    const bytes = Buffer.from(chunk.buffer, chunk.byteOffset, chunk.length)
    let start = 0
    for (;;) {
      const lineFeed = bytes.indexOf(BYTE.lineFeed, start)
      if (lineFeed < 0) break
      this.#piece(bytes, start, lineFeed + 1, true)
      start = lineFeed + 1
    }
    if (start < bytes.length) this.#piece(bytes, start, bytes.length, false)
  }

  /** The link has ended: what is left of a line is handed over as it is, without a line feed. */
  end(): void {
    this.#takeHeld()
  }

  #piece(bytes: Uint8Array, start: number, end: number, endsLine: boolean): void {
    if (this.#overlong) {
      this.#take(bytes, start, end)
      this.#overlong = !endsLine
    } else if (this.#heldBytes === 0 && endsLine) {
      this.#sort(bytes, start, end)
    } else if (this.#heldBytes + end - start > this.#held.length) {
      this.#takeHeld()
      this.#take(bytes, start, end)
      this.#overlong = !endsLine
    } else {
      this.#held.set(bytes.subarray(start, end), this.#heldBytes)
      this.#heldBytes += end - start
      if (endsLine) {
        const heldBytes = this.#heldBytes
        this.#heldBytes = 0
        this.#sort(this.#held, 0, heldBytes)
      }
    }
  }

  #takeHeld(): void {
    if (this.#heldBytes > 0) this.#take(this.#held, 0, this.#heldBytes)
    this.#heldBytes = 0
  }

  #sort(bytes: Uint8Array, start: number, end: number): void {
    const kind = bytes[start]
    const isBulk = kind === BLOCK || kind === DECIMALS || kind === UPLOAD
    if (isBulk || end - start > WIRE.maxLineBytes) this.#take(bytes, start, end)
    else this.#text.write(bytes.subarray(start, end))
  }
}
