import type { SampleFormat } from '../../protocol/request.ts'
import { closeLine } from '../../protocol/frame.ts'
import { writeBlock, writeDecimals } from '../../protocol/sample-lines.ts'
import { WIRE } from '../../protocol/wire.ts'
import { blockSamples } from './line-load.ts'

export interface Sampling {
  readonly periodNs: number
  readonly format: SampleFormat
  readonly channelMask: number
}

/** What a stream does with its lines and its losses. */
export interface StreamOutput {
  hasRoomFor(bytes: number): boolean
  line(line: Uint8Array): void
  overrun(firstLost: number, lost: number): void
  timeUs(ns: number): number
}

const WRAP = 4_294_967_296

/** Turns samples into lines, counts every one of them, and says what it had to drop (P-6). */
export class SampleStream {
  /** Counter of the next sample, not wrapped. */
  sequence: number
  dropped = 0
  nextNs = Number.POSITIVE_INFINITY
  private readonly output: StreamOutput
  private readonly line = new Uint8Array(WIRE.maxLineBytes)
  private counts = new Int32Array(0)
  private columns: number[] = []
  private sampling: Sampling | null = null
  private perBlock = 1
  private held = 0
  private startNs = 0
  private taken = 0
  private firstHeldNs = 0
  private lostFrom: number | null = null

  constructor(output: StreamOutput, sequence: number) {
    this.output = output
    this.sequence = sequence
  }

  get on(): boolean {
    return this.sampling !== null
  }

  start(nowNs: number, sampling: Sampling, baud: number): void {
    this.sampling = sampling
    this.columns = []
    for (let c = 0; c < WIRE.maxChannels; c++) {
      if (sampling.channelMask & (1 << c)) this.columns.push(c)
    }
    const decimal = sampling.format === 'decimal'
    this.perBlock = decimal ? 1 : blockSamples(sampling.periodNs, this.columns.length, baud)
    this.counts = new Int32Array(this.perBlock * this.columns.length)
    this.held = 0
    this.taken = 0
    this.dropped = 0
    this.lostFrom = null
    this.startNs = nowNs
    this.nextNs = nowNs + sampling.periodNs
  }

  /** Sends what is held; the counter of the sample that would have been next stays in `sequence`. */
  stop(): void {
    this.flush()
    this.reportLoss()
    this.sampling = null
    this.nextNs = Number.POSITIVE_INFINITY
  }

  /** A sample of all channels, taken at `nextNs`. */
  add(all: Int32Array): void {
    const { columns, held } = this
    if (held === 0) this.firstHeldNs = this.nextNs
    for (let c = 0; c < columns.length; c++) {
      this.counts[held * columns.length + c] = all[columns[c]!]!
    }
    this.held++
    this.sequence++
    this.taken++
    this.nextNs = this.startNs + (this.taken + 1) * this.sampling!.periodNs
    if (this.held === this.perBlock) this.flush()
  }

  private flush(): void {
    if (this.held === 0) return
    const { line, counts, held } = this
    const first = this.sequence - held
    const sequence = first % WRAP
    const timeUs = this.output.timeUs(this.firstHeldNs)
    const channels = this.columns.length
    this.held = 0
    const end =
      this.sampling!.format === 'decimal'
        ? writeDecimals(line, 0, sequence, timeUs, counts, 0, channels)
        : writeBlock(line, 0, 'B', sequence, timeUs, counts, 0, held, channels)
    const bytes = closeLine(line, 0, end)
    if (this.output.hasRoomFor(bytes)) {
      this.reportLoss(first) // before what follows the gap (P-7.6)
      this.output.line(line.slice(0, bytes))
    } else {
      this.dropped += held
      this.lostFrom ??= first
    }
  }

  private reportLoss(until = this.sequence): void {
    if (this.lostFrom === null) return
    this.output.overrun(this.lostFrom % WRAP, until - this.lostFrom)
    this.lostFrom = null
  }
}
