import { decodeWords, type WordDecoder } from './base64.ts'
import { bodyEnd, bodyText, checkFrame } from './frame.ts'
import type { LineError, LineFault, LineFaultCode } from './line-fault.ts'
import { LineSplitter } from './line-splitter.ts'
import { printableBytes } from './printable.ts'
import { type RigMessage, readRigMessage } from './rig-message.ts'
import { emptyBatch, readSamples, type SampleBatch, type SampleLayout } from './sample-lines.ts'

/** Where what a rig sends goes. The batch and its counts are used again: copy what is kept. */
export interface RigSink {
  samples(batch: SampleBatch): void
  /** A piece of a burst; `sequence` counts from the start of the capture. */
  upload(batch: SampleBatch): void
  message(message: RigMessage): void
  fault(error: LineError): void
}

/** Counted since the reader was made. Every line is accepted or rejected; there is no third way. */
export interface ReaderCounters {
  bytes: number
  lines: number
  accepted: number
  rejected: number
  readonly rejectedBy: Map<LineFaultCode, number>
}

/**
 * The host's end of the line: bytes in, checked messages and samples out. Samples are read at byte
 * level. Before `setLayout` a sample line is a `no-layout` fault: nothing is guessed about it.
 */
export class RigReader {
  readonly counters: ReaderCounters = {
    bytes: 0,
    lines: 0,
    accepted: 0,
    rejected: 0,
    rejectedBy: new Map(),
  }
  private readonly sink: RigSink
  private readonly decode: WordDecoder
  private readonly splitter: LineSplitter
  private readonly batch = emptyBatch()
  private readonly toStream = (batch: SampleBatch) => this.sink.samples(batch)
  private readonly toUpload = (batch: SampleBatch) => this.sink.upload(batch)
  private layout: SampleLayout | null = null
  private burstLayout: SampleLayout | null = null

  /** @param decode how the words of a block are read: the platform's own way where it has a faster one */
  constructor(sink: RigSink, decode: WordDecoder = decodeWords) {
    this.sink = sink
    this.decode = decode
    this.splitter = new LineSplitter({
      line: (bytes, start, end) => this.line(bytes, start, end),
      reject: (fault, bytes, start, end) => this.reject(fault, bytes, start, end),
    })
  }

  /**
   * What a sample of the stream and one of a burst (always all channels, P-9.1) hold from the next
   * line on; null where nothing is agreed.
   */
  setLayout(stream: SampleLayout | null, burst: SampleLayout | null): void {
    this.layout = stream
    this.burstLayout = burst
  }

  push(chunk: Uint8Array): void {
    this.counters.bytes += chunk.length
    this.splitter.push(chunk)
  }

  /** As `push`, of one whole line with its line feed or a piece of one line: no line feed inside. */
  pushPiece(bytes: Uint8Array, start: number, end: number): void {
    this.counters.bytes += end - start
    this.splitter.pushPiece(bytes, start, end)
  }

  /** The stream has ended: a partial line is a `truncated` fault. */
  end(): void {
    this.splitter.end()
  }

  private line(bytes: Uint8Array, start: number, end: number): void {
    const fault = checkFrame(bytes, start, end) ?? this.take(bytes, start, bodyEnd(end))
    if (fault) this.reject(fault, bytes, start, end)
    else {
      this.counters.lines++
      this.counters.accepted++
    }
  }

  private take(bytes: Uint8Array, start: number, end: number): LineFault | null {
    switch (bytes[start]) {
      case 0x53: // S
      case 0x42: // B
        return this.takeSamples(bytes, start, end, this.layout, this.toStream)
      case 0x55: // U
        return this.takeSamples(bytes, start, end, this.burstLayout, this.toUpload)
      default: {
        const body = bodyText(bytes, start, end)
        if (typeof body !== 'string') return body
        const message = readRigMessage(body)
        if (!message.ok) return message.error
        this.sink.message(message.value)
        return null
      }
    }
  }

  private takeSamples(
    bytes: Uint8Array,
    start: number,
    end: number,
    layout: SampleLayout | null,
    accept: (batch: SampleBatch) => void,
  ): LineFault | null {
    if (!layout) return { code: 'no-layout' }
    const fault = readSamples(bytes, start, end, layout, this.batch, this.decode)
    if (!fault) accept(this.batch)
    return fault
  }

  private reject(fault: LineFault, bytes: Uint8Array, start: number, end: number): void {
    const { counters } = this
    counters.lines++
    counters.rejected++
    counters.rejectedBy.set(fault.code, (counters.rejectedBy.get(fault.code) ?? 0) + 1)
    this.sink.fault({ lineNumber: counters.lines, raw: printableBytes(bytes, start, end), fault })
  }
}
