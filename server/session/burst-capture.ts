import { InputFault, WorkFault } from '../../src/base/faults.ts'
import type { BridgeMode } from '../../src/protocol/bridge.ts'
import type { ChannelDeclaration } from '../../src/protocol/channel.ts'
import type { SampleBatch } from '../../src/protocol/sample-lines.ts'
import type { BurstRequest } from './bench-session.ts'
import type { Connection } from './connection.ts'
import { obey, readChannels } from './hello.ts'
import { pauseUntil } from './pause.ts'
import type { EventMessage } from './rig-talk.ts'

/** A piece that is still missing this long after the last one came is asked for again. */
const QUIET_MS = 250
const ROUNDS = 8
/** A capture that was triggered is complete by then: its own length, and the line's patience. */
const READY_PATIENCE_MS = 500

export interface CapturedBurst {
  readonly channels: readonly ChannelDeclaration[]
  readonly periodNs: number
  readonly samples: number
  /** How many of them lie before the trigger. */
  readonly before: number
  /** `counts[sample * channels + channel]`; meaningless where `have` is 0. */
  readonly counts: Int32Array
  readonly have: Uint8Array
  /** Rig time of sample 0, unwrapped. */
  readonly zeroUs: number
  readonly edges: readonly { timeUs: number; mode: BridgeMode; setVolt: number }[]
}

/** A short window at the rig's highest rate around a change of the bridge (P-9), uploaded afterwards. */
export class BurstCapture {
  readonly request: BurstRequest
  readonly #connection: Connection
  readonly #channels: readonly ChannelDeclaration[]
  readonly #periodNs: number
  readonly #edges: CapturedBurst['edges'][number][] = []
  #ready: { readonly samples: number; readonly before: number } | null = null
  #counts = new Int32Array(0)
  #have = new Uint8Array(0)
  #came = 0
  #zeroUs: number | null = null
  #lastMs = 0
  #changed = new AbortController()

  private constructor(
    connection: Connection,
    request: BurstRequest,
    channels: readonly ChannelDeclaration[],
    periodNs: number,
  ) {
    this.#connection = connection
    this.request = request
    this.#channels = channels
    this.#periodNs = periodNs
  }

  /** @throws InputFault where the rig has no burst memory, or not enough. */
  static async prepare(connection: Connection, request: BurstRequest): Promise<BurstCapture> {
    const { burst } = connection.declared.limits
    if (burst === null) throw new InputFault('this rig has no burst memory; leave the burst out')
    const { samples, before } = request
    if (!(Number.isInteger(samples) && samples >= 1 && samples <= burst.samples)) {
      throw new InputFault(`a burst of ${samples} samples; this rig takes 1 to ${burst.samples}`)
    }
    if (!(Number.isInteger(before) && before >= 0 && before < samples)) {
      throw new InputFault(`${before} samples before the trigger; must be from 0 to ${samples - 1}`)
    }
    const channels = await readChannels(connection.talk, 'burst-channels')
    return new BurstCapture(connection, request, channels, burst.periodNs)
  }

  get layout(): readonly ChannelDeclaration[] {
    return this.#channels
  }

  /** From now on the next change of the bridge triggers it. */
  arm(): Promise<void> {
    const { samples, before } = this.request
    return obey(this.#connection.talk, { verb: 'burst', samples, before, trigger: 'bridge' })
  }

  event({ event }: EventMessage, timeUs: number): void {
    if (event.name === 'bridge') {
      this.#edges.push({ timeUs, mode: event.mode, setVolt: event.setVolt })
    } else if (event.name === 'burst-ready') {
      this.#ready = { samples: event.samples, before: event.before }
      this.#changed.abort()
    }
  }

  upload(batch: SampleBatch): void {
    const { sequence, count, channels, counts } = batch
    if (sequence + count > this.#have.length) return
    this.#lastMs = performance.now()
    this.#zeroUs ??=
      this.#connection.timeUs(batch.timeUs) - Math.round((sequence * this.#periodNs) / 1000)
    this.#counts.set(counts.subarray(0, count * channels), sequence * channels)
    for (let k = sequence; k < sequence + count; k++) {
      if (this.#have[k] === 0) this.#came++
      this.#have[k] = 1
    }
    if (this.#came === this.#have.length) this.#changed.abort()
  }

  /** Fetches the capture, asking again for what the line lost; null where nothing triggered it. */
  async fetch(): Promise<CapturedBurst | null> {
    if (this.#ready === null) await this.#change(READY_PATIENCE_MS)
    if (this.#ready === null || this.#connection.ended) return null
    const { samples, before } = this.#ready
    this.#counts = new Int32Array(samples * this.#channels.length)
    this.#have = new Uint8Array(samples)
    for (let round = 0; round < ROUNDS && this.#came < samples; round++) await this.#ask()
    if (this.#zeroUs === null) throw new WorkFault('nothing of the burst capture could be uploaded')
    return {
      channels: this.#channels,
      periodNs: this.#periodNs,
      samples,
      before,
      counts: this.#counts,
      have: this.#have,
      zeroUs: this.#zeroUs,
      edges: this.#edges,
    }
  }

  /** One upload from the first to the last missing sample. */
  async #ask(): Promise<void> {
    const from = this.#have.indexOf(0)
    const samples = this.#have.lastIndexOf(0) + 1 - from
    await obey(this.#connection.talk, { verb: 'upload', from, samples })
    this.#lastMs = performance.now()
    while (this.#came < this.#have.length && !this.#connection.ended) {
      const quietMs = performance.now() - this.#lastMs
      if (quietMs > QUIET_MS) return
      await this.#change(QUIET_MS - quietMs + 1)
    }
  }

  async #change(patienceMs: number): Promise<void> {
    this.#changed = new AbortController()
    const stop = () => this.#changed.abort()
    this.#connection.gone.addEventListener('abort', stop)
    await pauseUntil(patienceMs, this.#changed.signal)
    this.#connection.gone.removeEventListener('abort', stop)
  }
}
