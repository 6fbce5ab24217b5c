import type { AnswerError, AnswerOk } from '../../src/protocol/answer.ts'
import type { Declaration } from '../../src/protocol/declaration.ts'
import type { RigEvent } from '../../src/protocol/event.ts'
import { lineOf } from '../../src/protocol/frame.ts'
import { type Request, writeRequest } from '../../src/protocol/request.ts'
import type { SampleLayout } from '../../src/protocol/sample-lines.ts'
import type { Hardware } from '../../src/practice-rig/rig-side/hardware.ts'
import { Rig, type RigOptions } from '../../src/practice-rig/rig-side/rig.ts'
import { type RigLog, rigLog } from './rig-log.ts'

type EventOf<N extends RigEvent['name']> = Extract<RigEvent, { name: N }> & {
  eventNumber: number
  timeUs: number
}

/** A host at the other end of a rig, in simulated time: asks, waits, and keeps what comes. */
export class RigDesk {
  readonly rig: Rig
  readonly log: RigLog
  nowSec: number
  private id = 0

  constructor(hardware: Hardware, options: Partial<RigOptions> = {}) {
    this.rig = new Rig(hardware, options)
    this.nowSec = hardware.timeSec
    const channels: SampleLayout = hardware.channelsAt(hardware.periodsNs[0]!)
    this.log = rigLog(channels)
    this.collect()
  }

  /** Lets time pass in steps of a millisecond, taking what the rig sends. */
  wait(sec: number, limit = Number.POSITIVE_INFINITY): void {
    const until = this.nowSec + sec
    while (this.nowSec < until - 1e-9) {
      this.nowSec = Math.min(until, this.nowSec + 0.001)
      this.rig.advance(this.nowSec)
      this.collect(limit)
    }
  }

  /** The same with a request every 100 ms, as a live host does. */
  stayAlive(sec: number): void {
    for (let left = sec; left > 1e-9; left -= 0.1) {
      this.ask({ verb: 'alive' })
      this.wait(Math.min(0.1, left))
    }
  }

  send(text: string): void {
    this.rig.receive(new TextEncoder().encode(text))
    this.collect()
  }

  /** One request and its answer. */
  ask(request: Request): AnswerOk | AnswerError {
    this.id++
    this.rig.receive(lineOf(writeRequest(this.id, request)))
    this.collect()
    // A slow line needs a while; a line without a baud rate has it at once.
    for (let ms = 0; ms < 100 && this.own().length === 0; ms++) this.wait(0.001)
    const own = this.own()
    if (own.length !== 1) throw new Error(`${own.length} answers to request ${this.id}`)
    return own[0]!
  }

  private own(): (AnswerOk | AnswerError)[] {
    return this.log.messages.flatMap(m =>
      m.kind === 'answer' && m.answer.id === this.id ? [m.answer] : [],
    )
  }

  /** As `ask`, and what was declared before the answer. */
  declared(request: Request): Declaration[] {
    this.ask(request)
    return this.log.messages.flatMap(m =>
      m.kind === 'declaration' && m.id === this.id ? [m.declaration] : [],
    )
  }

  /** A drive that suits the fake bench unless told otherwise. */
  drive(more: Partial<Extract<Request, { verb: 'drive' }>> = {}): AnswerOk | AnswerError {
    return this.ask({
      verb: 'drive',
      mode: 'voltage',
      setVolt: 6,
      durationSec: 0.1,
      currentLimitAmp: 4,
      after: 'coast',
      ...more,
    })
  }

  get lastId(): number {
    return this.id
  }

  get events(): (RigEvent & { eventNumber: number; timeUs: number })[] {
    return this.log.messages.flatMap(m =>
      m.kind === 'event' ? [{ ...m.event, eventNumber: m.sequence, timeUs: m.timeUs }] : [],
    )
  }

  eventsOf<N extends RigEvent['name']>(name: N): EventOf<N>[] {
    return this.events.filter(e => e.name === name) as EventOf<N>[]
  }

  collect(limit = Number.POSITIVE_INFINITY): void {
    this.log.reader.push(this.rig.take(limit))
  }
}
