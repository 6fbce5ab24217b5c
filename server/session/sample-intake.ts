import type { ChannelDeclaration } from '../../src/protocol/channel.ts'
import { ModuloUnwrapper } from '../../src/protocol/counts.ts'
import type { SampleBatch } from '../../src/protocol/sample-lines.ts'
import { Unwrapper } from '../../src/protocol/unwrap.ts'
import { WIRE } from '../../src/protocol/wire.ts'
import { BridgeTrack } from './bridge-track.ts'
import { type Loss, LossLedger } from './loss-ledger.ts'
import type { SampleChunk } from './run-log.ts'

/** Where accepted samples go, in this order for each batch. */
export interface IntakeSink {
  lost(loss: Loss): void
  /** Its counts are used again by the next batch: copy what is kept. */
  chunk(chunk: SampleChunk): void
  /** The same samples in SI; used again by the next batch. */
  seen(samples: SeenSamples): void
  /** A batch with a good checksum whose counter or time cannot be. */
  refused(reason: string): void
}

export interface SeenSamples {
  readonly count: number
  readonly timeSec: Float64Array
  /** `BRIDGE` codes. */
  readonly bridge: Uint8Array
  /** A column a channel. */
  readonly columns: readonly Float64Array[]
}

/** Beyond the samples' own spacing, by how much counter and clock may disagree (P-11.3 has 2 µs). */
const CLOCK_TOLERANCE_US = 1000
/** Times are whole microseconds, and 2 µs are allowed. */
const EXACT_US = 4
const MOST_SAMPLES = WIRE.maxLineBytes
/** Up to so many counts a loop is faster than a copy, which needs a view of its own. */
const FEW = 32

/**
 * One stream of samples as it comes: counters and times unwrapped and checked against each other,
 * losses counted, counts that run round made continuous, everything in SI beside the raw counts.
 * Time zero is the moment of the stream's first sample, whether it arrived or not (of the first that
 * arrived, where it came ahead of the answer that says which was the first).
 */
export class SampleIntake {
  readonly ledger = new LossLedger()
  readonly bridge = new BridgeTrack()
  /** Accepted. */
  samples = 0
  refused = 0
  refusedInARow = 0
  /** Largest distance of a sample's time from where its counter puts it, beyond rounding. */
  worstStrayUs = 0
  readonly #channels: readonly ChannelDeclaration[]
  readonly #unwrappers: readonly (ModuloUnwrapper | null)[]
  /** Whether a count can be beyond what sixteen bits hold. */
  readonly #isWide: boolean
  readonly #counts: Int16Array | Int32Array
  /** Counts of the batch at hand. */
  #view: Int16Array | Int32Array
  readonly #periodUs: number
  readonly #sink: IntakeSink
  readonly #sequence = new Unwrapper()
  readonly #timeUsOf: (reading: number) => number
  readonly #seen: SeenSamples & { count: number }
  /** Unwrapped counter of the first sample, and of the one that comes next. */
  #first: number | null = null
  #next = 0
  #zeroUs: number | null = null

  /** @param timeUsOf the rig's time unwrapped, shared with its events and answers */
  constructor(
    channels: readonly ChannelDeclaration[],
    periodNs: number,
    timeUsOf: (reading: number) => number,
    sink: IntakeSink,
  ) {
    this.#channels = channels
    this.#unwrappers = channels.map(({ kind, bits }) =>
      kind === 'modulo' ? new ModuloUnwrapper(bits) : null,
    )
    this.#isWide = channels.some(({ kind, highCount }) => kind === 'modulo' || highCount > 32_767)
    this.#counts = this.#isWide ? new Int32Array(MOST_SAMPLES) : new Int16Array(MOST_SAMPLES)
    this.#view = this.#counts
    this.#periodUs = periodNs / 1000
    this.#timeUsOf = timeUsOf
    this.#sink = sink
    this.#seen = {
      count: 0,
      timeSec: new Float64Array(MOST_SAMPLES),
      bridge: new Uint8Array(MOST_SAMPLES),
      columns: channels.map(() => new Float64Array(MOST_SAMPLES)),
    }
  }

  /** Seconds from time zero; null before the first sample. */
  secondsOf(timeUs: number): number | null {
    return this.#zeroUs === null ? null : (timeUs - this.#zeroUs) / 1e6
  }

  /** Counter of the stream's first sample, from the answer that started it. */
  begin(firstSequence: number): void {
    const first = this.#sequence.peek(firstSequence)
    if (this.#first === null) {
      this.#sequence.next(firstSequence)
      this.#first = first
      this.#next = first
    } else if (first < this.#first) this.#sink.lost(this.ledger.gap(first, this.#first))
  }

  overrun(sequence: number, dropped: number): void {
    this.ledger.overrun(this.#sequence.peek(sequence), dropped)
  }

  take(batch: SampleBatch): void {
    const sequence = this.#sequence.peek(batch.sequence)
    const timeUs = this.#timeUsOf(batch.timeUs)
    const first = this.#first ?? sequence
    const index = sequence - first
    const zeroUs = this.#zeroUs ?? timeUs - index * this.#periodUs
    const strayUs = Math.abs(timeUs - (zeroUs + index * this.#periodUs))
    const reason = this.#against(sequence, strayUs)
    if (reason !== null) {
      this.refused++
      this.refusedInARow++
      this.#sink.refused(reason)
      return
    }
    if (this.#first === null) this.#next = sequence
    this.#first = first
    this.#zeroUs = zeroUs
    this.#sequence.next(batch.sequence)
    this.refusedInARow = 0
    if (strayUs > EXACT_US) this.worstStrayUs = Math.max(this.worstStrayUs, strayUs)
    if (sequence > this.#next) this.#sink.lost(this.ledger.gap(this.#next, sequence))
    this.#next = sequence + batch.count
    this.samples += batch.count
    this.#hand(batch, index, sequence, zeroUs)
  }

  /** The rig says which counter would have come next: whatever is missing before it is lost. */
  end(sequence: number): void {
    const final = this.#sequence.peek(sequence)
    if (final > this.#next) this.#sink.lost(this.ledger.gap(this.#next, final))
    this.#next = Math.max(this.#next, final)
  }

  #against(sequence: number, strayUs: number): string | null {
    if (sequence < this.#next && this.#first !== null) {
      return `sample counter fell back from ${this.#next} to ${sequence}`
    }
    if (strayUs > this.#periodUs + CLOCK_TOLERANCE_US) {
      return `sample ${sequence} carries a time ${Math.round(strayUs)} µs away from where its counter puts it`
    }
    return null
  }

  #hand(batch: SampleBatch, index: number, sequence: number, zeroUs: number): void {
    const { count } = batch
    const channels = this.#channels.length
    const counts = this.#countsOf(batch, count * channels)
    for (let c = 0; c < channels; c++) this.#column(c, counts, count)
    const { timeSec, bridge } = this.#seen
    const periodUs = this.#periodUs
    const periodSec = periodUs / 1e6
    for (let i = 0; i < count; i++) timeSec[i] = (index + i) * periodSec
    this.bridge.fill(bridge, count, zeroUs + index * periodUs, periodUs)
    this.#seen.count = count
    this.#sink.chunk({
      firstSequence: sequence,
      startSec: (index * periodUs) / 1e6,
      intervalSec: periodSec,
      sampleCount: count,
      counts,
    })
    this.#sink.seen(this.#seen)
  }

  /** The batch's own where they are as they are kept; else copied, the view made anew where the number is another. */
  #countsOf(batch: SampleBatch, length: number): Int16Array | Int32Array {
    const { counts } = batch
    if (counts.length === length && counts instanceof Int16Array && !this.#isWide) return counts
    if (this.#view.length !== length) this.#view = this.#counts.subarray(0, length)
    if (length > FEW) this.#view.set(counts.subarray(0, length))
    else for (let k = 0; k < length; k++) this.#view[k] = counts[k]!
    return this.#view
  }

  /** One channel's counts, continuous where they run round, and beside them in SI. */
  #column(c: number, counts: Int16Array | Int32Array, count: number): void {
    const channels = this.#channels.length
    const { scale, offset } = this.#channels[c]!
    const unwrapper = this.#unwrappers[c]!
    const column = this.#seen.columns[c]!
    if (unwrapper !== null) {
      for (let k = c; k < count * channels; k += channels) counts[k] = unwrapper.next(counts[k]!)
    }
    scaleInto(column, counts, c, channels, count, scale, offset)
  }
}

/** Four a turn: what a loop costs of itself is as much as one multiplication. */
function scaleInto(
  column: Float64Array,
  counts: Int16Array | Int32Array,
  from: number,
  step: number,
  count: number,
  scale: number,
  offset: number,
): void {
  let i = 0
  let k = from
  for (; i + 4 <= count; i += 4, k += 4 * step) {
    column[i] = scale * counts[k]! + offset
    column[i + 1] = scale * counts[k + step]! + offset
    column[i + 2] = scale * counts[k + 2 * step]! + offset
    column[i + 3] = scale * counts[k + 3 * step]! + offset
  }
  for (; i < count; i++, k += step) column[i] = scale * counts[k]! + offset
}
