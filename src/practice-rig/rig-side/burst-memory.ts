import { closeLine } from '../../protocol/frame.ts'
import { writeBlock } from '../../protocol/sample-lines.ts'
import { WIRE } from '../../protocol/wire.ts'

/** A finished capture: samples in order, the first one's time, and how many lie before the trigger. */
interface Capture {
  readonly counts: Int16Array
  readonly samples: number
  readonly before: number
  readonly firstNs: number
}

interface Filling {
  readonly ring: Int16Array
  readonly wanted: number
  readonly before: number
  readonly startNs: number
  taken: number
  /** Samples taken when the trigger came; null before. */
  triggeredAt: number | null
}

/** The memory for samples at the highest rate (P-9). */
export class BurstMemory {
  nextNs = Number.POSITIVE_INFINITY
  private readonly channels: number
  private readonly periodNs: number
  private readonly row: Int32Array
  private filling: Filling | null = null
  private capture: Capture | null = null
  private upload: { at: number; until: number } | null = null
  private readonly line = new Uint8Array(WIRE.maxLineBytes)

  constructor(channels: number, periodNs: number) {
    this.channels = channels
    this.periodNs = periodNs
    this.row = new Int32Array(channels)
  }

  get busy(): boolean {
    return this.filling !== null
  }

  start(nowNs: number, samples: number, before: number, triggered: boolean): void {
    this.capture = null
    this.upload = null
    this.filling = {
      ring: new Int16Array(samples * this.channels),
      wanted: samples,
      before,
      startNs: nowNs,
      taken: 0,
      triggeredAt: triggered ? 0 : null,
    }
    this.nextNs = nowNs + this.periodNs
  }

  /** The bridge has changed: the next sample is the first after the trigger. */
  trigger(): void {
    if (this.filling !== null) this.filling.triggeredAt ??= this.filling.taken
  }

  /** Gives up a capture whose trigger has not come (P-9.2). */
  giveUp(): void {
    if (this.filling?.triggeredAt === null) this.end()
  }

  /** Takes a sample at `nextNs`. The capture's facts once it is complete, else null. */
  add(read: (row: Int32Array) => void): { samples: number; before: number; timeNs: number } | null {
    const filling = this.filling!
    const { ring, wanted, startNs } = filling
    read(this.row)
    const slot = (filling.taken % wanted) * this.channels
    for (let c = 0; c < this.channels; c++) ring[slot + c] = this.row[c]!
    filling.taken++
    this.nextNs = startNs + (filling.taken + 1) * this.periodNs
    const { triggeredAt, taken } = filling
    if (triggeredAt === null || taken - triggeredAt < wanted - filling.before) return null
    const before = Math.min(filling.before, triggeredAt)
    const samples = before + taken - triggeredAt
    this.capture = {
      counts: inOrder(ring, taken, samples, this.channels),
      samples,
      before,
      firstNs: startNs + (taken - samples + 1) * this.periodNs,
    }
    this.end()
    return { samples, before, timeNs: this.capture.firstNs + before * this.periodNs }
  }

  /** Samples of the finished capture; null where there is none. */
  get samples(): number | null {
    return this.capture?.samples ?? null
  }

  send(from: number, samples: number): void {
    this.upload = { at: from, until: from + samples }
  }

  /** The next line of an upload, with at most `perLine` samples; null when nothing is asked for. */
  nextLine(perLine: number, timeUs: (ns: number) => number): Uint8Array | null {
    const { upload, capture, line } = this
    if (upload === null || capture === null) return null
    const samples = Math.min(perLine, upload.until - upload.at)
    const time = timeUs(capture.firstNs + upload.at * this.periodNs)
    const { channels } = this
    const end = writeBlock(
      line,
      0,
      'U',
      upload.at,
      time,
      capture.counts,
      upload.at,
      samples,
      channels,
    )
    upload.at += samples
    if (upload.at >= upload.until) this.upload = null
    return line.slice(0, closeLine(line, 0, end))
  }

  private end(): void {
    this.filling = null
    this.nextNs = Number.POSITIVE_INFINITY
  }
}

/** The last `samples` of a ring that has taken `taken`, oldest first. */
function inOrder(ring: Int16Array, taken: number, samples: number, channels: number): Int16Array {
  const size = ring.length / channels
  const counts = new Int16Array(samples * channels)
  for (let k = 0; k < samples; k++) {
    const slot = ((taken - samples + k) % size) * channels
    counts.set(ring.subarray(slot, slot + channels), k * channels)
  }
  return counts
}
