import type { MessagePort } from 'node:worker_threads'
import { ByteQueue } from './byte-queue.ts'
import { LinkLost } from './faults.ts'
import type { Link } from './link.ts'
import type { Wire } from './wire.ts'

/**
 * Two ends of a line between threads. Messages towards the host are byte arrays; it answers each with
 * the number of bytes that were read from it, so that the rig's end knows what still waits.
 */
type ToHost = Uint8Array
type ToRig = Uint8Array | number

/** The host's end. */
export class MessageLink implements Link {
  readonly describe: string
  readonly #port: MessagePort
  readonly #queue = new ByteQueue()

  constructor(describe: string, port: MessagePort) {
    this.describe = describe
    this.#port = port
    port.on('message', (bytes: ToHost) => this.#queue.push(bytes))
    port.on('close', () => this.#queue.end(new LinkLost(`the link to the ${describe} is lost`)))
  }

  async *bytes(signal: AbortSignal): AsyncGenerator<Uint8Array, void, undefined> {
    for await (const chunk of this.#queue.read(signal)) {
      this.#post(chunk.length)
      yield chunk
    }
  }

  async send(bytes: Uint8Array): Promise<void> {
    if (this.#queue.ended) throw new LinkLost(`the link to the ${this.describe} is closed`)
    this.#post(bytes.slice())
  }

  async close(): Promise<void> {
    this.#queue.end(null)
    this.#port.close()
  }

  #post(message: ToRig): void {
    this.#port.postMessage(message)
  }
}

/** The rig's end. */
export class MessageWire implements Wire {
  readonly #port: MessagePort
  #listener: (bytes: Uint8Array) => void = () => {}
  #backlogBytes = 0

  constructor(port: MessagePort) {
    this.#port = port
    port.on('message', (message: ToRig) => {
      if (typeof message === 'number') this.#backlogBytes -= message
      else this.#listener(message)
    })
  }

  get backlogBytes(): number {
    return this.#backlogBytes
  }

  onBytes(listener: (bytes: Uint8Array) => void): void {
    this.#listener = listener
  }

  write(bytes: Uint8Array): void {
    if (bytes.length === 0) return
    this.#backlogBytes += bytes.length
    this.#port.postMessage(bytes satisfies ToHost)
  }

  close(): void {
    this.#port.close()
  }
}
