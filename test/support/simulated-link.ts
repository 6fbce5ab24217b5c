import { setImmediate as turn } from 'node:timers/promises'
import { Rig, type RigOptions } from '../../src/practice-rig/rig-side/rig.ts'
import type { Hardware } from '../../src/practice-rig/rig-side/hardware.ts'
import { lineOf } from '../../src/protocol/frame.ts'
import type { CheckClock } from '../../server/check-rig/check-line.ts'
import { ByteQueue } from '../../server/link/byte-queue.ts'
import type { Link } from '../../server/link/link.ts'

/** Changes what passes; each gets one line without its end, and gives the lines that go on instead. */
export interface LineTampering {
  readonly fromRig?: (line: string) => readonly string[]
  readonly toRig?: (line: string) => readonly string[]
  /** How much later than others a line from the rig comes. */
  readonly delayMs?: (line: string) => number
}

/** A body closed by its true checksum. */
export const closed = (body: string) => new TextDecoder().decode(lineOf(body)).trimEnd()
export const bodyOf = (line: string) => line.replace(/\*[0-9A-F]{4}$/, '')

/** A rig at the other end of a link, in simulated time that passes only while the host sleeps. */
export class SimulatedLink implements Link {
  readonly describe = 'simulated rig'
  readonly clock: CheckClock
  readonly rig: Rig
  private readonly queue = new ByteQueue()
  private readonly tampering: LineTampering
  private nowSec: number
  private held = ''
  private late: { dueSec: number; line: string }[] = []

  constructor(
    hardware: Hardware,
    tampering: LineTampering = {},
    options: Partial<RigOptions> = {},
  ) {
    this.rig = new Rig(hardware, options)
    this.tampering = tampering
    this.nowSec = hardware.timeSec
    this.clock = {
      nowMs: () => this.nowSec * 1000,
      takeOversleptMs: () => 0,
      sleep: async ms => {
        const until = this.nowSec + ms / 1000
        while (this.nowSec < until - 1e-9) {
          this.nowSec = Math.min(until, this.nowSec + 0.001)
          this.rig.advance(this.nowSec)
          this.deliver(this.rig.take(1e6))
        }
        await turn()
      },
    }
  }

  bytes(signal: AbortSignal): AsyncIterable<Uint8Array> {
    return this.queue.read(signal)
  }

  async send(bytes: Uint8Array): Promise<void> {
    const { toRig } = this.tampering
    if (!toRig) return this.rig.receive(bytes)
    const text = latin(bytes)
    for (const line of text.split(/(?<=\n)/)) {
      for (const sent of toRig(line.replace(/\r?\n$/, ''))) this.rig.receive(asBytes(`${sent}\n`))
    }
  }

  async close(): Promise<void> {
    this.queue.end(null)
  }

  private deliver(bytes: Uint8Array): void {
    const { fromRig, delayMs } = this.tampering
    if (!fromRig && !delayMs) {
      this.queue.push(bytes)
      return
    }
    const lines = (this.held + latin(bytes)).split('\n')
    this.held = lines.pop() ?? ''
    for (const line of lines.flatMap(l => (l === '' || !fromRig ? [l] : fromRig(l)))) {
      this.late.push({ dueSec: this.nowSec + (delayMs?.(line) ?? 0) / 1000, line })
    }
    const due = this.late.filter(l => l.dueSec <= this.nowSec)
    this.late = this.late.filter(l => l.dueSec > this.nowSec)
    this.queue.push(asBytes(due.map(({ line }) => `${line}\n`).join('')))
  }
}

const latin = (bytes: Uint8Array) => Buffer.from(bytes).toString('latin1')
const asBytes = (text: string) => Uint8Array.from(Buffer.from(text, 'latin1'))
