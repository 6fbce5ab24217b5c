import { encodedLength, encodeWords, type WordDecoder } from './base64.ts'
import type { ChannelDeclaration } from './channel.ts'
import type { LineFault } from './line-fault.ts'
import { printableBytes } from './printable.ts'
import { BYTE, WIRE } from './wire.ts'

/** What a sample holds, in order: the channels agreed by the last `sampling` request. */
export type SampleLayout = readonly Pick<
  ChannelDeclaration,
  'index' | 'kind' | 'lowCount' | 'highCount'
>[]

/** The channels of a mask, in rising order (P-6.2). */
export function layoutOf(
  channels: readonly ChannelDeclaration[],
  channelMask: number,
): ChannelDeclaration[] {
  return channels.filter(c => channelMask & (1 << c.index)).sort((a, b) => a.index - b.index)
}

/** Equidistant samples: counter and time are the first one's, `counts[sample * channels + channel]`. */
export interface SampleBatch {
  sequence: number
  timeUs: number
  count: number
  channels: number
  counts: Int16Array | Int32Array
}

/** A batch with room for counts of any channel. */
export interface RoomyBatch extends SampleBatch {
  readonly room: Int32Array
}

export function emptyBatch(): RoomyBatch {
  const room = new Int32Array(WIRE.maxLineBytes)
  return { sequence: 0, timeUs: 0, count: 0, channels: 0, counts: room, room }
}

const SAMPLE = 0x53 // S
const U32 = 4_294_967_295

/**
 * Reads `S sequence timeUs c0 c1 …`, `B sequence timeUs count payload` or `U …` (P-6.3, P-6.5,
 * P-9.5) from `bytes[start … end)` into `batch`. Null when it was good.
 */
export function readSamples(
  bytes: Uint8Array,
  start: number,
  end: number,
  layout: SampleLayout,
  batch: RoomyBatch,
  decode: WordDecoder,
): LineFault | null {
  const cursor: Cursor = { bytes, at: start + 1, end, value: 0 }
  const fault = takeInteger(cursor, 'sequence', 0, U32)
  if (fault) return fault
  batch.sequence = cursor.value
  const timeFault = takeInteger(cursor, 'time', 0, U32)
  if (timeFault) return timeFault
  batch.timeUs = cursor.value
  batch.channels = layout.length
  return bytes[start] === SAMPLE
    ? takeDecimals(cursor, layout, batch)
    : takeBlock(cursor, layout, batch, decode)
}

function takeDecimals(cursor: Cursor, layout: SampleLayout, batch: RoomyBatch): LineFault | null {
  batch.counts = batch.room
  batch.count = 1
  for (let c = 0; c < layout.length; c++) {
    const channel = layout[c]!
    if (cursor.at >= cursor.end) {
      return { code: 'field-count', expected: layout.length, received: c }
    }
    const fault = takeInteger(cursor, 'count', channel.lowCount, channel.highCount)
    if (fault) return fault
    batch.room[c] = cursor.value
  }
  if (cursor.at >= cursor.end) return null
  return { code: 'field-count', expected: layout.length, received: layout.length + 1 }
}

function takeBlock(
  cursor: Cursor,
  layout: SampleLayout,
  batch: RoomyBatch,
  decode: WordDecoder,
): LineFault | null {
  const fault = takeInteger(cursor, 'count', 1, WIRE.maxLineBytes)
  if (fault) return fault
  const { bytes, at, end } = cursor
  const words = cursor.value * layout.length
  if (at >= end || bytes[at] !== BYTE.space || words > batch.room.length) {
    return { code: 'payload', words, characters: Math.max(0, end - at) }
  }
  const decoded = decode(bytes, at + 1, end, words)
  if (decoded === null) return { code: 'payload', words, characters: end - at - 1 }
  batch.count = cursor.value
  if (layout.every(takesEveryWord)) {
    batch.counts = decoded
    return null
  }
  batch.counts = batch.room
  batch.room.set(decoded)
  for (let c = 0; c < layout.length; c++) {
    const channel = layout[c]!
    if (takesEveryWord(channel)) continue
    const { kind, lowCount, highCount } = channel
    const mask = kind === 'signed' ? -1 : 0xffff
    const bad = firstOutside(batch.room, c, words, layout.length, mask, lowCount, highCount)
    if (bad >= 0) return outOfRange(batch.room[bad]!, lowCount, highCount)
  }
  return null
}

const takesEveryWord = ({ kind, lowCount, highCount }: SampleLayout[number]): boolean =>
  kind === 'signed' && lowCount <= -0x8000 && highCount >= 0x7fff

/** Takes the sign from the words of a channel that has none; where the first lies that is out of range, or -1. */
function firstOutside(
  counts: Int32Array,
  from: number,
  end: number,
  step: number,
  mask: number,
  low: number,
  high: number,
): number {
  for (let k = from; k < end; k += step) {
    const count = counts[k]! & mask
    counts[k] = count
    if (count < low || count > high) return k
  }
  return -1
}

interface Cursor {
  readonly bytes: Uint8Array
  at: number
  readonly end: number
  value: number
}

/** A space and an integer (P-3.6). */
function takeInteger(cursor: Cursor, field: string, low: number, high: number): LineFault | null {
  const { bytes, end } = cursor
  const from = cursor.at
  let i = from
  if (i >= end || bytes[i] !== BYTE.space) return notANumber(bytes, from, end, field)
  i++
  const negative = i < end && bytes[i] === BYTE.minus
  if (negative) i++
  const first = i
  let value = 0
  while (i < end) {
    const digit = bytes[i]! - BYTE.zero
    if (digit < 0 || digit > 9) break
    value = value * 10 + digit
    i++
  }
  const digits = i - first
  const padded = bytes[first] === BYTE.zero && (digits > 1 || negative)
  if (digits === 0 || digits > 10 || padded || (i < end && bytes[i] !== BYTE.space)) {
    return notANumber(bytes, from, end, field)
  }
  cursor.value = negative ? -value : value
  cursor.at = i
  return cursor.value < low || cursor.value > high
    ? outOfRange(cursor.value, low, high, field)
    : null
}

function notANumber(bytes: Uint8Array, from: number, end: number, field: string): LineFault {
  const start = Math.min(from + 1, end)
  const space = bytes.indexOf(BYTE.space, start)
  const stop = space < 0 || space > end ? end : space
  return { code: 'not-a-number', field, received: printableBytes(bytes, start, stop, 40) }
}

function outOfRange(received: number, low: number, high: number, field = 'count'): LineFault {
  return { code: 'out-of-range', field, received, low, high }
}

/** Writes the body of a decimal line at `at`; returns the position after it. */
export function writeDecimals(
  target: Uint8Array,
  at: number,
  sequence: number,
  timeUs: number,
  counts: ArrayLike<number>,
  from: number,
  channels: number,
): number {
  target[at] = SAMPLE
  let out = putInteger(target, at + 1, sequence)
  out = putInteger(target, out, timeUs)
  for (let c = 0; c < channels; c++) out = putInteger(target, out, counts[from + c]!)
  return out
}

/** Writes the body of a block (`B`) or of a piece of a burst (`U`) at `at`; returns the position after it. */
export function writeBlock(
  target: Uint8Array,
  at: number,
  kind: 'B' | 'U',
  sequence: number,
  timeUs: number,
  counts: ArrayLike<number>,
  from: number,
  samples: number,
  channels: number,
): number {
  target[at] = kind.charCodeAt(0)
  let out = putInteger(target, at + 1, sequence)
  out = putInteger(target, out, timeUs)
  out = putInteger(target, out, samples)
  target[out] = BYTE.space
  return encodeWords(counts, from * channels, samples * channels, target, out + 1)
}

/** Samples of so many channels that a block of at most `lineBytes` bytes holds. */
export function samplesPerBlock(channels: number, lineBytes: number = WIRE.maxLineBytes): number {
  const head = 'B 4294967295 4294967295 9999 '.length
  const payload = 4 * Math.floor((lineBytes - head - '*0000\n'.length) / 4)
  let samples = Math.floor((payload / 4) * 3) / 2 / channels
  samples = Math.max(1, Math.floor(samples))
  while (samples > 1 && encodedLength(samples * channels) > payload) samples--
  return samples
}

const digits = new Uint8Array(12)

/** A space and the number. */
function putInteger(target: Uint8Array, at: number, value: number): number {
  let out = at
  target[out++] = BYTE.space
  let rest = value
  if (rest < 0) {
    target[out++] = BYTE.minus
    rest = -rest
  }
  let n = 0
  do {
    const tenth = Math.floor(rest / 10)
    digits[n++] = BYTE.zero + (rest - 10 * tenth)
    rest = tenth
  } while (rest > 0)
  while (n > 0) target[out++] = digits[--n]!
  return out
}
