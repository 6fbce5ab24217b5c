import { writeSync } from 'node:fs'
import { SerialPort } from 'serialport'
import { InputFault } from '../../src/base/faults.ts'
import { ByteQueue } from './byte-queue.ts'
import { LinkLost } from './faults.ts'
import type { Link } from './link.ts'
import { explainOpenFailure } from './port-fault.ts'
import { readPromptly } from './prompt-reads.ts'

/** P-2.1: where nothing else is stated. */
export const DEFAULT_BAUD = 115_200
const SLOWEST_BAUD = 300
const FASTEST_BAUD = 12_000_000

/** The port stops reading beyond this; the operating system then holds the rest back. */
const QUEUE_LIMIT_BYTES = 1 << 20
/** Silence after which the port itself is asked whether it is still there, and how often again. */
const SILENCE_MS = 250
/** A close that has not come back by then never will. */
const CLOSE_PATIENCE_MS = 1000

/**
 * A serial port through the `serialport` binding.
 * @throws InputFault where it cannot be opened, saying why and what would help.
 */
export async function openSerialLink(path: string, baud: number = DEFAULT_BAUD): Promise<Link> {
  if (!Number.isInteger(baud) || baud < SLOWEST_BAUD || baud > FASTEST_BAUD) {
    throw new InputFault(
      `baud rate ${baud} is not possible; give a whole number from ${SLOWEST_BAUD} to ${FASTEST_BAUD}`,
    )
  }
  const port = new SerialPort({ path, baudRate: baud, autoOpen: false })
  const failure = await new Promise<Error | null>(resolve => port.open(resolve))
  if (failure !== null) throw await explainOpenFailure(path, baud, failure)
  if (port.port) readPromptly(port.port)
  return new SerialLink(port)
}

class SerialLink implements Link {
  readonly describe: string
  readonly #port: SerialPort
  readonly #queue = new ByteQueue()
  readonly #silenceTimer: NodeJS.Timeout
  #lastHeardMs = performance.now()
  #closing: Promise<void> | null = null
  /** Writes that the port has not finished: whatever follows must not overtake them. */
  #writing = 0

  constructor(port: SerialPort) {
    this.describe = port.path
    this.#port = port
    this.#silenceTimer = setInterval(() => this.#checkSilence(), SILENCE_MS)
    this.#silenceTimer.unref()
    port.on('data', (chunk: Buffer) => this.#take(chunk))
    port.on('close', () => this.#lose('the port closed'))
    port.on('error', error => this.#lose(error.message))
  }

  bytes(signal: AbortSignal): AsyncIterable<Uint8Array> {
    return this.#queue.read(signal, () => {
      if (this.#queue.size < QUEUE_LIMIT_BYTES / 2 && this.#port.isPaused()) this.#port.resume()
    })
  }

  send(bytes: Uint8Array): Promise<void> {
    if (this.#queue.ended) return Promise.reject(this.#lost('it is closed'))
    const written = this.#writing === 0 ? this.#writeNow(bytes) : 0
    if (written === bytes.length) return Promise.resolve()
    this.#writing++
    return new Promise((resolve, reject) => {
      this.#port.write(bytes.subarray(written), error => {
        this.#writing--
        if (error) reject(this.#lost(error.message))
        else resolve()
      })
    })
  }

  /**
   * A write of the port's own takes its turn in a pool of four threads behind every file that this
   * process reads and writes: behind a slow disk a stop would come too late. The descriptor of a POSIX
   * port never blocks; what it does not take at once, faults included, is left to the port.
   */
  #writeNow(bytes: Uint8Array): number {
    const { port } = this.#port
    if (!port || !('fd' in port) || typeof port.fd !== 'number') return 0
    try {
      return writeSync(port.fd, bytes)
    } catch {
      return 0
    }
  }

  close(): Promise<void> {
    this.#queue.end(null)
    this.#closing ??= this.#shut()
    return this.#closing
  }

  #take(chunk: Buffer): void {
    this.#lastHeardMs = performance.now()
    this.#queue.push(chunk)
    if (this.#queue.size > QUEUE_LIMIT_BYTES) this.#port.pause()
  }

  #lose(why: string): void {
    this.#queue.end(this.#lost(why))
    this.#closing ??= this.#shut()
  }

  #lost(why: string): LinkLost {
    return new LinkLost(`the link at ${this.describe} is lost: ${why}`)
  }

  /**
   * A peer that vanishes in mid-read can leave the binding retrying a read of nothing for ever, open
   * by its own account. The modem lines tell: a pseudo-terminal that lives has none (ENOTTY), a
   * device that has gone answers with an I/O error.
   */
  #checkSilence(): void {
    if (performance.now() - this.#lastHeardMs < SILENCE_MS || !this.#port.isOpen) return
    this.#port.get(error => {
      if (error && !/inappropriate ioctl|ENOTTY/i.test(error.message)) {
        this.#lose('the device has gone')
      }
    })
  }

  async #shut(): Promise<void> {
    clearInterval(this.#silenceTimer)
    if (!this.#port.isOpen) return
    await new Promise<void>(resolve => {
      const patience = setTimeout(resolve, CLOSE_PATIENCE_MS)
      this.#port.close(() => {
        clearTimeout(patience)
        resolve()
      })
    })
  }
}
