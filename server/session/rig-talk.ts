import type { Answer } from '../../src/protocol/answer.ts'
import type { Declaration } from '../../src/protocol/declaration.ts'
import { lineOf } from '../../src/protocol/frame.ts'
import type { LineError } from '../../src/protocol/line-fault.ts'
import { type Request, writeRequest } from '../../src/protocol/request.ts'
import type { RigMessage } from '../../src/protocol/rig-message.ts'
import { type ReaderCounters, RigReader } from '../../src/protocol/rig-reader.ts'
import type { SampleBatch, SampleLayout } from '../../src/protocol/sample-lines.ts'
import { BYTE, WIRE } from '../../src/protocol/wire.ts'
import { LinkLost } from '../link/faults.ts'
import type { Link } from '../link/link.ts'
import { LineSorter } from './line-sorter.ts'
import { nativeWords } from './native-words.ts'

export type EventMessage = Extract<RigMessage, { kind: 'event' }>

/** Where what is not an answer goes. Called from within the reading of the link: be brief. */
export interface TalkSink {
  samples(batch: SampleBatch): void
  upload(batch: SampleBatch): void
  event(message: EventMessage): void
  fault(error: LineError): void
  /** The link has gone; nothing more comes. Not called after `close`. */
  lost(error: LinkLost): void
}

export interface Reply {
  readonly answer: Answer
  /** Complete: as many as the answer counted. */
  readonly declarations: readonly Declaration[]
}

/** No answer came, however often it was asked for. */
export class AnswerMissing extends Error {
  override readonly name = 'AnswerMissing'
}

export interface Asking {
  /** How long one attempt may take, and how many there are. */
  readonly patienceMs: number
  readonly attempts: number
}

/** P-11.1 allows 20 ms and the line at hand; USB adapters and busy computers add tens of milliseconds. */
export const USUAL_ASKING: Asking = { patienceMs: 300, attempts: 3 }

/** One exchange: every id under which it was asked leads to it, for a late answer is as good. */
interface Pending {
  readonly settle: (reply: Reply) => void
  readonly fail: (error: Error) => void
  readonly ids: number[]
  readonly declarations: Map<number, Declaration[]>
}

/**
 * Numbered requests over a link and the answers to them (P-4), and everything else that comes sorted
 * to its sink. Retries are safe by P-4.5.
 */
export class RigTalk {
  readonly link: Link
  readonly #sink: TalkSink
  readonly #reader: RigReader
  readonly #sorter: LineSorter
  readonly #pending = new Map<number, Pending>()
  readonly #abort = new AbortController()
  /** Those who wait for one of the places in P-4.3. */
  readonly #queue: (() => void)[] = []
  #outstanding = 0
  #lastId = 0
  #heardMs = performance.now()
  #opening: Uint8Array[] = []
  #openingBytes = 0
  #ended: LinkLost | null = null

  constructor(link: Link, sink: TalkSink) {
    this.link = link
    this.#sink = sink
    this.#reader = new RigReader(
      {
        samples: batch => sink.samples(batch),
        upload: batch => sink.upload(batch),
        message: message => this.#take(message),
        fault: error => sink.fault(error),
      },
      nativeWords,
    )
    this.#sorter = new LineSorter((bytes, start, end) => this.#reader.pushPiece(bytes, start, end))
    void this.#read()
  }

  get counters(): ReaderCounters {
    return this.#reader.counters
  }

  /** Since anything valid came. */
  get quietMs(): number {
    return performance.now() - this.#heardMs
  }

  /** The first bytes that ever came, for saying what speaks there if it is not a rig. */
  get openingBytes(): Uint8Array {
    return Buffer.concat(this.#opening)
  }

  setLayout(stream: SampleLayout | null, burst: SampleLayout | null): void {
    this.#reader.setLayout(stream, burst)
  }

  /** Ends whatever the rig holds of a line (P-10.2). */
  sendLineFeed(): Promise<void> {
    return this.link.send(Uint8Array.of(BYTE.lineFeed))
  }

  /**
   * Asks until answered. Rejects with `AnswerMissing`, or `LinkLost`. A refusal is an answer.
   */
  async ask(request: Request, asking: Asking = USUAL_ASKING): Promise<Reply> {
    await this.#place()
    try {
      return await this.#exchange(request, asking)
    } finally {
      this.#outstanding--
      this.#queue.shift()?.()
    }
  }

  /** As `ask`, at once: for `stop`, `disarm` and `alive`, which no other request may hold up. */
  askAtOnce(request: Request, asking: Asking): Promise<Reply> {
    return this.#exchange(request, asking)
  }

  async close(): Promise<void> {
    this.#end(new LinkLost(`the link at ${this.link.describe} is closed`), false)
    await this.link.close()
  }

  /** One place of the four stays free for what is asked at once. */
  async #place(): Promise<void> {
    if (this.#outstanding >= WIRE.maxOutstanding - 1) {
      await new Promise<void>(resolve => this.#queue.push(resolve))
    }
    this.#outstanding++
  }

  async #exchange(request: Request, { patienceMs, attempts }: Asking): Promise<Reply> {
    if (this.#ended) throw this.#ended
    const ids: number[] = []
    let timer: NodeJS.Timeout | undefined
    try {
      return await new Promise<Reply>((settle, fail) => {
        const pending: Pending = { settle, fail, ids, declarations: new Map() }
        let left = attempts
        const attempt = () => {
          if (left-- > 0) {
            this.#post(request, pending)
            timer = setTimeout(attempt, patienceMs)
          } else {
            const where = this.link.describe
            fail(new AnswerMissing(`the rig at ${where} did not answer '${request.verb}'`))
          }
        }
        attempt()
      })
    } finally {
      clearTimeout(timer)
      for (const id of ids) this.#pending.delete(id)
    }
  }

  #post(request: Request, pending: Pending): void {
    this.#lastId = (this.#lastId % WIRE.maxId) + 1
    pending.ids.push(this.#lastId)
    this.#pending.set(this.#lastId, pending)
    // A failed write shows as a lost link; an answer that does not come is asked for again.
    this.link.send(lineOf(writeRequest(this.#lastId, request))).catch(() => {})
  }

  async #read(): Promise<void> {
    try {
      for await (const chunk of this.link.bytes(this.#abort.signal)) {
        if (this.#openingBytes < OPENING_BYTES) {
          this.#opening.push(chunk.slice(0, OPENING_BYTES - this.#openingBytes))
          this.#openingBytes += chunk.length
        }
        const before = this.#reader.counters.accepted
        this.#sorter.push(chunk)
        if (this.#reader.counters.accepted > before) this.#heardMs = performance.now()
      }
      this.#end(new LinkLost(`the link at ${this.link.describe} ended`), true)
    } catch (error) {
      const lost = error instanceof LinkLost ? error : new LinkLost(String(error), { cause: error })
      this.#end(lost, true)
    }
  }

  #end(error: LinkLost, tell: boolean): void {
    if (this.#ended) return
    this.#ended = error
    this.#abort.abort()
    this.#sorter.end()
    this.#reader.end()
    for (const pending of new Set(this.#pending.values())) pending.fail(error)
    this.#pending.clear()
    if (tell) this.#sink.lost(error)
  }

  #take(message: RigMessage): void {
    switch (message.kind) {
      case 'event':
        this.#sink.event(message)
        return
      case 'declaration': {
        const known = this.#pending.get(message.id)?.declarations
        if (!known) return
        const list = known.get(message.id) ?? []
        known.set(message.id, list)
        if (list.length < MOST_DECLARATIONS) list.push(message.declaration)
        return
      }
      case 'answer': {
        const { answer } = message
        const pending = this.#pending.get(answer.id)
        if (!pending) return
        this.#pending.delete(answer.id)
        const declarations = pending.declarations.get(answer.id) ?? []
        // Lines were lost on the way: the next attempt asks again (P-5.1).
        if (answer.kind === 'ok' && (answer.lines ?? 0) !== declarations.length) return
        pending.settle({ answer, declarations })
        return
      }
      default:
        message satisfies never
    }
  }
}

const OPENING_BYTES = 400
/** A rate line a period, at most a channel line a channel: a rig that sends more is not believed. */
const MOST_DECLARATIONS = 256
