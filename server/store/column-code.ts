import { type Envelope, envelopeOf, type Extent, mergeBuckets } from '../../src/signals/envelope.ts'
import { blobOf, numbersOf } from './blob.ts'

/** Samples that one bucket of an envelope sums up. */
export const BUCKET_SAMPLES = 256

export type Encoding = 'i16' | 'i32' | 'f64' | 'u8'

/** What a column holds: raw counts, values in SI, or the bridge's codes. */
export type ColumnForm = 'counts' | 'real' | 'code'

/** One column of one chunk, as its row in the store. */
export interface ColumnRow {
  readonly encoding: Encoding
  readonly low: number | null
  readonly mean: number | null
  readonly high: number | null
  readonly present: number
  readonly envelope: Buffer
  readonly data: Buffer
}

export function encodeColumn(values: Float64Array, form: ColumnForm): ColumnRow {
  const envelope = envelopeOf(values, BUCKET_SAMPLES)
  const whole = mergeBuckets(envelope)
  const encoding = encodingFor(form, whole)
  const parts = [envelope.low, envelope.mean, envelope.high, envelope.count]
  const packed = parts.map(part => blobOf(isWide(encoding) ? part : new Float32Array(part)))
  return {
    encoding,
    low: whole.count > 0 ? whole.low : null,
    mean: whole.count > 0 ? whole.mean : null,
    high: whole.count > 0 ? whole.high : null,
    present: whole.count,
    envelope: Buffer.concat(packed),
    data: packValues(values, encoding),
  }
}

function encodingFor(form: ColumnForm, whole: Extent): Encoding {
  if (form === 'real') return 'f64'
  if (form === 'code') return 'u8'
  // Rigs send 16 bits; counters such as an encoder's position may be wider.
  return whole.low >= -32768 && whole.high <= 32767 ? 'i16' : 'i32'
}

/** Wide numbers need the envelope in double precision; the others fit float32 without loss. */
const isWide = (encoding: Encoding): boolean => encoding === 'f64' || encoding === 'i32'

function packValues(values: Float64Array, encoding: Encoding): Buffer {
  switch (encoding) {
    case 'i16':
      return blobOf(new Int16Array(values))
    case 'i32':
      return blobOf(new Int32Array(values))
    case 'u8':
      return blobOf(new Uint8Array(values))
    case 'f64':
      return Buffer.from(blobOf(values))
  }
}

/** The numbers of a column as they were stored: counts, SI values or codes. */
export function decodeData(row: Pick<ColumnRow, 'encoding' | 'data'>) {
  switch (row.encoding) {
    case 'i16':
      return numbersOf(row.data, Int16Array)
    case 'i32':
      return numbersOf(row.data, Int32Array)
    case 'u8':
      return numbersOf(row.data, Uint8Array)
    case 'f64':
      return numbersOf(row.data, Float64Array)
  }
}

export function decodeEnvelope(row: Pick<ColumnRow, 'encoding' | 'envelope'>): Envelope {
  const all = isWide(row.encoding)
    ? numbersOf(row.envelope, Float64Array)
    : Float64Array.from(numbersOf(row.envelope, Float32Array))
  const buckets = all.length / 4
  const part = (n: number) => all.subarray(n * buckets, (n + 1) * buckets)
  return { low: part(0), mean: part(1), high: part(2), count: part(3) }
}

/** The whole chunk's extent from its row. */
export function wholeExtent(row: Pick<ColumnRow, 'low' | 'mean' | 'high' | 'present'>): Extent {
  return {
    low: row.low ?? Number.NaN,
    mean: row.mean ?? Number.NaN,
    high: row.high ?? Number.NaN,
    count: row.present,
  }
}

/** Extent of one bucket of an envelope. */
export function bucketExtent(envelope: Envelope, bucket: number): Extent {
  return {
    low: envelope.low[bucket]!,
    mean: envelope.mean[bucket]!,
    high: envelope.high[bucket]!,
    count: envelope.count[bucket]!,
  }
}
