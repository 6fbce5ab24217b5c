import { ReadlineParser } from '@serialport/parser-readline'
import { BYTE, WIRE } from '../../src/protocol/wire.ts'

const BLOCK = 0x42 // B
const DECIMALS = 0x53 // S
const UPLOAD = 0x55 // U

/**
 * Cuts what a link brings into lines: answers, declarations and events through `ReadlineParser`,
 * samples (the bulk of what comes) as bytes without becoming a string and bytes again.
 * Whole lines only reach `take`, in the order in which they came, each with its line feed; of a
 * line that never ends no more than a line's worth is held at any time.
 */
export class LineSorter {
  readonly #take: (line: Uint8Array) => void
  readonly #text = new ReadlineParser({ delimiter: '\n', encoding: 'latin1' })
  readonly #held = new Uint8Array(WIRE.maxLineBytes)
  #heldBytes = 0
  /** The line at hand is longer than a line may be and goes on to the reader as it comes. */
  #overlong = false

  constructor(take: (line: Uint8Array) => void) {
    this.#take = take
    this.#text.on('data', (line: string) => take(Buffer.from(`${line}\n`, 'latin1')))
  }

  push(chunk: Uint8Array): void {
    let start = 0
    for (;;) {
      const lineFeed = chunk.indexOf(BYTE.lineFeed, start)
      if (lineFeed < 0) break
      this.#piece(chunk.subarray(start, lineFeed + 1), true)
      start = lineFeed + 1
    }
    if (start < chunk.length) this.#piece(chunk.subarray(start), false)
  }

  /** The link has ended: what is left of a line is handed over as it is, without a line feed. */
  end(): void {
    if (this.#heldBytes > 0) this.#take(this.#held.slice(0, this.#heldBytes))
    this.#heldBytes = 0
  }

  #piece(bytes: Uint8Array, endsLine: boolean): void {
    if (this.#overlong) {
      this.#take(bytes)
      this.#overlong = !endsLine
    } else if (this.#heldBytes === 0 && endsLine) {
      this.#sort(bytes)
    } else if (this.#heldBytes + bytes.length > this.#held.length) {
      this.#take(this.#held.slice(0, this.#heldBytes))
      this.#take(bytes)
      this.#heldBytes = 0
      this.#overlong = !endsLine
    } else {
      this.#held.set(bytes, this.#heldBytes)
      this.#heldBytes += bytes.length
      if (endsLine) {
        const line = this.#held.subarray(0, this.#heldBytes)
        this.#heldBytes = 0
        this.#sort(line)
      }
    }
  }

  #sort(line: Uint8Array): void {
    const isBulk = line[0] === BLOCK || line[0] === DECIMALS || line[0] === UPLOAD
    if (isBulk || line.length > WIRE.maxLineBytes) this.#take(line)
    else this.#text.write(line)
  }
}
