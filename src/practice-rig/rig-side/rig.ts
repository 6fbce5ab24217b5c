import { type Answer, okAnswer } from '../../protocol/answer.ts'
import type { BootCause, RigEvent } from '../../protocol/event.ts'
import { lineOf } from '../../protocol/frame.ts'
import { HostReader } from '../../protocol/host-reader.ts'
import type { NumberedRequest } from '../../protocol/request.ts'
import { writeRigMessage } from '../../protocol/rig-message.ts'
import { samplesPerBlock } from '../../protocol/sample-lines.ts'
import { BridgeKeeper } from './bridge-keeper.ts'
import { BurstMemory } from './burst-memory.ts'
import { carryOut, type RigParts } from './carry-out.ts'
import type { Hardware } from './hardware.ts'
import { lineBytesPerSec, sampleLineBytes } from './line-load.ts'
import { OutputQueue } from './output-queue.ts'
import { refusalOf } from './refusal.ts'
import { type Sampling, SampleStream } from './sample-stream.ts'

export interface RigOptions {
  /** What the rig's clock shows when it is switched on, and the counter of its first sample. */
  readonly clockStartUs: number
  readonly sequenceStart: number
  readonly bootCause: BootCause
  /** From switching on to the `boot` event; requests are not heard before. */
  readonly bootSec: number
  /** Samples that may wait for the line before they are dropped. */
  readonly sampleBufferBytes: number
}

export const DEFAULT_RIG_OPTIONS: RigOptions = {
  clockStartUs: 0,
  sequenceStart: 0,
  bootCause: 'power',
  bootSec: 0,
  sampleBufferBytes: 65_536,
}

const NS = 1e9
const WRAP = 4_294_967_296
const CHECK_EVERY_NS = 1e6
/** Index pulses are reported no faster (P-7.7). */
const INDEX_EVERY_NS = 20e6

/**
 * The rig's side of firmware-protocol.md on any hardware: a state machine of time and bytes.
 *
 *   advance(time)  lets the rig live until then
 *   receive(bytes) gives it what the host sent, now
 *   take(limit)    what it has to say, at most as much as its line has carried by now
 */
export class Rig implements RigParts {
  readonly hardware: Hardware
  readonly keeper: BridgeKeeper
  readonly stream: SampleStream
  readonly burst: BurstMemory | null
  nowNs: number
  badLines = 0
  sampling: Sampling
  private readonly options: RigOptions
  private readonly queue: OutputQueue
  private readonly reader: HostReader
  private readonly startNs: number
  private readonly counts: Int32Array
  private readonly readBurst = (row: Int32Array) => this.hardware.sampleBurst(row, 0)
  readonly timeUs = (ns: number) =>
    (this.options.clockStartUs + Math.floor((ns - this.startNs) / 1000)) % WRAP
  private checkNs: number
  private lastIndexNs = Number.NEGATIVE_INFINITY
  private events = 0
  private booted = false
  private lineBytes = 0

  constructor(hardware: Hardware, options: Partial<RigOptions> = {}) {
    this.hardware = hardware
    this.options = { ...DEFAULT_RIG_OPTIONS, ...options }
    this.startNs = Math.round(hardware.timeSec * NS)
    this.nowNs = this.startNs
    this.checkNs = this.startNs + CHECK_EVERY_NS
    this.keeper = new BridgeKeeper(hardware, (timeNs, event) => this.event(timeNs, event))
    this.queue = new OutputQueue(this.options.sampleBufferBytes)
    this.stream = new SampleStream(
      {
        hasRoomFor: bytes => this.queue.hasRoomFor(bytes),
        line: line => this.queue.pushSamples(line),
        overrun: (sequence, dropped) =>
          this.event(this.nowNs, { name: 'overrun', sequence, dropped }),
        timeUs: this.timeUs,
      },
      this.options.sequenceStart,
    )
    const channels = hardware.channelsAt(hardware.periodsNs[0]!).length
    this.counts = new Int32Array(channels)
    this.burst =
      hardware.limits.burst === null
        ? null
        : new BurstMemory(channels, hardware.limits.burst.periodNs)
    this.sampling = {
      periodNs: hardware.periodsNs[0]!,
      format: 'block',
      channelMask: 2 ** channels - 1,
    }
    hardware.setBurst(false)
    hardware.setSamplePeriod(this.sampling.periodNs)
    this.reader = new HostReader({
      request: request => this.answer(request),
      wrong: ({ id, fault }) => {
        this.keeper.feed(this.nowNs)
        this.send(refusalOf(id, fault))
      },
      unreadable: () => {
        this.badLines = Math.min(this.badLines + 1, WRAP - 1)
      },
    })
    if (this.options.bootSec === 0) this.boot()
  }

  get armed(): boolean {
    return this.keeper.armed
  }

  /** Bytes from the host, at the time last advanced to. */
  receive(bytes: Uint8Array): void {
    if (this.booted) this.reader.push(bytes)
  }

  /** Lives until `toSec` of the hardware's clock. */
  advance(toSec: number): void {
    const untilNs = Math.round(toSec * NS)
    const { keeper, stream, burst } = this
    while (this.nowNs < untilNs) {
      const burstNs = burst === null ? Number.POSITIVE_INFINITY : burst.nextNs
      const nextNs = Math.min(untilNs, stream.nextNs, burstNs, keeper.nextNs, this.checkNs)
      this.run(nextNs)
      if (nextNs >= keeper.nextNs) keeper.expire(nextNs)
      if (nextNs >= stream.nextNs) {
        this.hardware.sample(this.counts, 0)
        stream.add(this.counts)
      }
      if (burst !== null && nextNs >= burst.nextNs) this.sampleBurst(burst)
      if (nextNs >= this.checkNs) this.check()
    }
  }

  /** What the line has carried since the last call, at most `limit` bytes. */
  take(limit: number): Uint8Array {
    const perSec = lineBytesPerSec(this.hardware.identity.baud)
    const carried = this.hardware.identity.baud === 0 ? Number.POSITIVE_INFINITY : this.lineBytes
    const bytes = this.queue.take(Math.floor(Math.min(limit, carried)), () => this.nextUpload())
    // A line that had nothing to carry does not make up for it later.
    this.lineBytes = Math.min(this.lineBytes - bytes.length, perSec / 1000)
    return bytes
  }

  private run(nextNs: number): void {
    this.lineBytes += ((nextNs - this.nowNs) / NS) * lineBytesPerSec(this.hardware.identity.baud)
    for (;;) {
      const guards = this.keeper.guards
      const stop = this.hardware.advance(nextNs / NS, guards)
      if (stop === null) break
      const limit = {
        'over-current': guards.currentAmp,
        'over-speed': guards.speedRadPerSec,
        'bus-high': guards.busHighVolt,
      }[stop.cause]
      this.keeper.trip(Math.round(stop.timeSec * NS), stop.cause, stop.value, limit)
    }
    this.nowNs = nextNs
  }

  private check(): void {
    this.checkNs += CHECK_EVERY_NS
    if (!this.booted && this.nowNs - this.startNs >= this.options.bootSec * NS) this.boot()
    this.keeper.check(this.nowNs)
    for (const pulse of this.hardware.takeIndexPulses()) {
      const timeNs = Math.round(pulse.timeSec * NS)
      if (timeNs - this.lastIndexNs < INDEX_EVERY_NS) continue
      this.lastIndexNs = timeNs
      this.event(timeNs, { name: 'index', count: pulse.count & 0xffff })
    }
  }

  private boot(): void {
    this.booted = true
    this.queue.pushUrgent(Uint8Array.of(0x0a))
    this.event(this.nowNs, { name: 'boot', cause: this.options.bootCause })
  }

  private sampleBurst(burst: BurstMemory): void {
    const done = burst.add(this.readBurst)
    if (done === null) return
    this.hardware.setBurst(false)
    const { samples, before, timeNs } = done
    this.event(timeNs, { name: 'burst-ready', samples, before })
  }

  private nextUpload(): Uint8Array | null {
    const { identity } = this.hardware
    const perLine = samplesPerBlock(this.counts.length, sampleLineBytes(identity.baud))
    return this.burst?.nextLine(perLine, this.timeUs) ?? null
  }

  private event(timeNs: number, event: RigEvent): void {
    if (event.name === 'bridge') this.burst?.trigger()
    const sequence = this.events++ % WRAP
    this.queue.pushUrgent(
      lineOf(writeRigMessage({ kind: 'event', sequence, timeUs: this.timeUs(timeNs), event })),
    )
  }

  private send(answer: Answer): void {
    this.queue.pushUrgent(lineOf(writeRigMessage({ kind: 'answer', answer })))
  }

  private answer({ id, request }: NumberedRequest): void {
    this.keeper.feed(this.nowNs)
    if (request.verb === 'stream' && !request.on) this.streamOff(id)
    else {
      const { declarations, answer } = carryOut(this, id, request)
      for (const declaration of declarations) {
        this.queue.pushUrgent(lineOf(writeRigMessage({ kind: 'declaration', id, declaration })))
      }
      this.send(answer)
    }
  }

  private streamOff(id: number): void {
    if (this.stream.on) this.stream.stop()
    else this.stream.dropped = 0
    const answer = okAnswer(id, this.timeUs(this.nowNs), {
      sequence: this.stream.sequence % WRAP,
      dropped: this.stream.dropped,
    })
    this.queue.pushAfterSamples(lineOf(writeRigMessage({ kind: 'answer', answer })))
  }
}
