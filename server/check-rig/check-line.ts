import type { Answer } from '../../src/protocol/answer.ts'
import type { ChannelDeclaration } from '../../src/protocol/channel.ts'
import type { Declaration } from '../../src/protocol/declaration.ts'
import { lineOf } from '../../src/protocol/frame.ts'
import type { LineFault } from '../../src/protocol/line-fault.ts'
import { LineSplitter } from '../../src/protocol/line-splitter.ts'
import { printableBytes } from '../../src/protocol/printable.ts'
import type { RigMessage } from '../../src/protocol/rig-message.ts'
import { RigReader } from '../../src/protocol/rig-reader.ts'
import type { SampleBatch, SampleLayout } from '../../src/protocol/sample-lines.ts'
import type { Link } from '../link/link.ts'

/** Time as check-rig uses it; tests give a simulated one. */
export interface CheckClock {
  nowMs(): number
  sleep(ms: number): Promise<void>
  /** How much longer than asked the longest sleep took since this was last called. */
  takeOversleptMs(): number
}

/** One line as it came, and what it turned out to be. */
export interface SeenLine {
  readonly raw: string
  readonly bytes: number
  readonly atMs: number
  /** Place among all lines since the check began. */
  readonly index: number
  readonly content:
    | { readonly kind: 'message'; readonly message: RigMessage }
    | { readonly kind: 'samples' | 'upload'; readonly batch: SampleBatch }
    | { readonly kind: 'fault'; readonly fault: LineFault }
}

export interface Exchange {
  readonly id: number
  readonly body: string
  readonly sentMs: number
  readonly answer: Answer
  readonly line: SeenLine
  readonly declarations: readonly { readonly declaration: Declaration; readonly line: SeenLine }[]
}

const LINE_FEED = Uint8Array.of(0x0a)
/** As long as an answer is waited for: far longer than P-11.1 allows, for computers that are busy. */
const PATIENCE_MS = 4000

/**
 * The line to the rig under check. Keeps every line for judging, and can send what no well-behaved
 * host would.
 */
export class CheckLine {
  readonly lines: SeenLine[] = []
  /** Ids that must have been answered exactly once, in the order sent. */
  readonly asked: { readonly id: number; readonly body: string }[] = []
  private readonly link: Link
  private readonly clock: CheckClock
  private readonly abort = new AbortController()
  private readonly splitter: LineSplitter
  private readonly reader: RigReader
  private readonly reading: Promise<void>
  private content: SeenLine['content'] | null = null
  private id = 100
  private lost: unknown = null

  constructor(link: Link, clock: CheckClock) {
    this.link = link
    this.clock = clock
    this.reader = new RigReader({
      samples: batch => this.accept({ kind: 'samples', batch: copyOf(batch) }),
      upload: batch => this.accept({ kind: 'upload', batch: copyOf(batch) }),
      message: message => this.accept({ kind: 'message', message }),
      fault: error => this.accept({ kind: 'fault', fault: error.fault }),
    })
    this.splitter = new LineSplitter({
      line: (bytes, start, end) => {
        this.reader.push(bytes.subarray(start, end))
        this.reader.push(LINE_FEED)
        this.keep(bytes, start, end)
      },
      reject: (fault, bytes, start, end) => {
        this.accept({ kind: 'fault', fault })
        this.keep(bytes, start, end)
      },
    })
    this.reading = this.read()
  }

  setLayout(stream: SampleLayout | null, burst: readonly ChannelDeclaration[] | null): void {
    this.reader.setLayout(stream, burst)
  }

  async pause(ms: number): Promise<void> {
    await this.clock.sleep(ms)
    if (this.lost !== null) throw this.lost
  }

  nowMs(): number {
    return this.clock.nowMs()
  }

  takeOversleptMs(): number {
    return this.clock.takeOversleptMs()
  }

  /** Bytes as they are, checksum and all. */
  async sendRaw(text: string): Promise<void> {
    await this.link.send(Uint8Array.from(text, c => c.charCodeAt(0)))
  }

  /** The line of a body, with its checksum. */
  lineText(body: string): string {
    return String.fromCharCode(...lineOf(body))
  }

  nextId(): number {
    this.id++
    return this.id
  }

  /** Sends `Q id rest`, counts on an answer, does not wait for it. */
  async post(rest: string, id = this.nextId()): Promise<number> {
    const body = `Q ${id} ${rest}`
    this.asked.push({ id, body })
    await this.link.send(lineOf(body))
    return id
  }

  /** Sends `Q id rest` and waits for its answer; null where none came. */
  async ask(rest: string, id = this.nextId()): Promise<Exchange | null> {
    const from = this.lines.length
    const sentMs = this.clock.nowMs()
    await this.post(rest, id)
    while (this.clock.nowMs() - sentMs < PATIENCE_MS) {
      const exchange = this.exchange(id, rest, from, sentMs)
      if (exchange !== null) return exchange
      await this.pause(1)
    }
    return this.exchange(id, rest, from, sentMs)
  }

  /** Waits for a line that comes after place `from`; null where none does for a long time. */
  async waitFor(from: number, wanted: (line: SeenLine) => boolean): Promise<SeenLine | null> {
    const until = this.clock.nowMs() + PATIENCE_MS
    for (;;) {
      const line = this.lines.slice(from).find(wanted)
      if (line) return line
      if (this.clock.nowMs() >= until) return null
      await this.pause(2)
    }
  }

  /** Stops listening; the link itself belongs to who opened it. */
  async end(): Promise<void> {
    this.abort.abort()
    await this.reading
  }

  private exchange(id: number, rest: string, from: number, sentMs: number): Exchange | null {
    const declarations: Exchange['declarations'][number][] = []
    for (let i = from; i < this.lines.length; i++) {
      const line = this.lines[i]!
      if (line.content.kind !== 'message') continue
      const { message } = line.content
      if (message.kind === 'declaration' && message.id === id) {
        declarations.push({ declaration: message.declaration, line })
      } else if (message.kind === 'answer' && message.answer.id === id) {
        const body = `Q ${id} ${rest}`
        return { id, body, sentMs, answer: message.answer, line, declarations }
      }
    }
    return null
  }

  private accept(content: SeenLine['content']): void {
    this.content = content
  }

  private keep(bytes: Uint8Array, start: number, end: number): void {
    if (this.content === null) return
    this.lines.push({
      raw: printableBytes(bytes, start, end, 400),
      bytes: end - start + 1,
      atMs: this.clock.nowMs(),
      index: this.lines.length,
      content: this.content,
    })
    this.content = null
  }

  private async read(): Promise<void> {
    try {
      for await (const chunk of this.link.bytes(this.abort.signal)) this.splitter.push(chunk)
    } catch (error) {
      this.lost = error
    }
  }
}

function copyOf(batch: SampleBatch): SampleBatch {
  return { ...batch, counts: batch.counts.slice(0, batch.count * batch.channels) }
}
