import { onTestFinished } from 'vitest'
import { ByteQueue } from '../../server/link/byte-queue.ts'
import { LinkLost } from '../../server/link/faults.ts'
import type { Link } from '../../server/link/link.ts'
import { Rig, type RigOptions } from '../../src/practice-rig/rig-side/rig.ts'
import { FakeHardware } from './fake-hardware.ts'

/**
 * The firmware of a rig on hardware that a test can foretell, living in real time in this thread.
 * `pass` sees what goes to the host and may change it; `cut` pulls the plug.
 */
export class LiveFakeRig {
  readonly hardware: FakeHardware
  rig: Rig
  pass: (bytes: Uint8Array) => Uint8Array = bytes => bytes
  /** What came from the host, as text. */
  heard = ''
  readonly #options: Partial<RigOptions>
  #lastMs = performance.now()
  readonly #timer: NodeJS.Timeout
  #queue: ByteQueue | null = null
  #heldUntilMs = 0
  #sec = 0

  constructor(hardware = new FakeHardware(), options: Partial<RigOptions> = {}) {
    this.hardware = hardware
    this.#options = options
    this.rig = new Rig(hardware, options)
    this.#timer = setInterval(() => this.live(), 2)
    onTestFinished(() => clearInterval(this.#timer))
  }

  restart(): void {
    this.rig = new Rig(this.hardware, { ...this.#options, bootCause: 'brown-out' })
    this.live()
  }

  /** A thread that stood still does so for rig and host alike: time slips rather than leaping. */
  live(): void {
    const now = performance.now()
    this.#sec += Math.min(now - this.#lastMs, 30) / 1000
    this.#lastMs = now
    this.rig.advance(this.#sec)
    if (performance.now() < this.#heldUntilMs) return
    const bytes = this.rig.take(1e6)
    if (bytes.length > 0) this.#queue?.push(this.pass(bytes))
  }

  /** The line takes nothing for so long; the rig fills its own buffer. */
  hold(ms: number): void {
    this.#heldUntilMs = performance.now() + ms
  }

  /** Bytes that no rig sent. */
  inject(text: string): void {
    this.#queue?.push(new TextEncoder().encode(text))
  }

  cut(): void {
    this.#queue?.end(new LinkLost('the cable was pulled'))
    this.#queue = null
  }

  open(): Promise<Link> {
    const queue = new ByteQueue()
    this.#queue = queue
    return Promise.resolve({
      describe: 'fake rig',
      bytes: (signal: AbortSignal) => queue.read(signal),
      send: async (bytes: Uint8Array) => {
        if (queue.ended) throw new LinkLost('closed')
        this.heard += new TextDecoder().decode(bytes)
        this.live()
        this.rig.receive(bytes)
        this.live()
      },
      close: async () => queue.end(null),
    })
  }
}
