import type { Extent } from '../../src/signals/envelope.ts'
import { Slots } from '../../src/signals/slots.ts'
import { timeOfSample } from '../../src/signals/time-marks.ts'
import type { ChunkHead, ChunkTable } from './chunks.ts'
import { BUCKET_SAMPLES, bucketExtent } from './column-code.ts'
import { sequenceGaps } from './run-gaps.ts'
import type { Overview, RunRecord, SequenceGap } from './run-record.ts'
import { type RunColumn, readRecording } from './run-samples.ts'
import { chunkTimes, endOf, samplesBetween, startOf } from './run-times.ts'

interface Reader {
  readonly chunks: ChunkTable
  readonly runId: number
  readonly column: RunColumn
}

interface Span {
  readonly from: number
  readonly to: number
}

/**
 * A picture of one quantity between two times that costs what is drawn, not what is stored: chunks much
 * shorter than a slot count by their summary, buckets of 256 samples by their envelope, and only what is
 * still too coarse is read sample by sample. Where there are no more samples than points, they come one
 * by one.
 */
export function readOverview(
  chunks: ChunkTable,
  run: RunRecord,
  column: RunColumn,
  span: Span,
  points: number,
): Overview {
  const heads = chunks.heads(run.id, 0, run.sampleCount)
  const gaps = sequenceGaps(heads).filter(gap => gap.toSec >= span.from && gap.fromSec <= span.to)
  const range = samplesBetween(chunks, run.id, heads, span.from, span.to)
  if (range.to - range.from <= points) return readDetail(chunks, run, column, range, gaps)
  const slots = new Slots(span.from, span.to, points)
  for (const gap of gaps) slots.addGap(gap.fromSec, gap.toSec)
  const reader = { chunks, runId: run.id, column }
  for (const head of heads) {
    if (startOf(head) <= span.to && endOf(head) >= span.from) addChunk(reader, head, span, slots)
  }
  return { quantity: column.quantity, ...slots.toColumns(), isDetail: false }
}

function readDetail(
  chunks: ChunkTable,
  run: RunRecord,
  column: RunColumn,
  range: Span,
  gaps: readonly SequenceGap[],
): Overview {
  const { timeSec, columns } = readRecording(chunks, run, [column], [], range.from, range.to)
  const gapAfter = new Map(gaps.map(gap => [gap.afterSample, gap]))
  const x: number[] = []
  const values: number[] = []
  for (const [i, value] of columns[column.quantity]!.entries()) {
    x.push(timeSec ? timeSec[i]! : range.from + i)
    values.push(value)
    const gap = gapAfter.get(range.from + i)
    if (!gap) continue
    x.push((gap.fromSec + gap.toSec) / 2)
    values.push(Number.NaN)
  }
  const mean = Float64Array.from(values)
  return {
    quantity: column.quantity,
    x: Float64Array.from(x),
    low: mean,
    mean,
    high: mean,
    isDetail: true,
  }
}

/** What is shorter than this part of a slot counts at its middle; no slot between stays empty by that. */
const SMALL_PART = 0.5

function addChunk(reader: Reader, head: ChunkHead, span: Span, slots: Slots): void {
  const { chunks, runId, column } = reader
  const longest = SMALL_PART * slots.width
  const [start, end] = [startOf(head), endOf(head)]
  const fits = (from: number, to: number) =>
    from >= span.from && to <= span.to && to - from <= longest
  if (fits(start, end)) {
    const extent = chunks.summary(runId, head.firstSample, column.columnName)
    slots.addExtent((start + end) / 2, inSi(extent, column))
    return
  }
  const envelope = chunks.envelope(runId, head.firstSample, column.columnName)
  const ends = bucketEnds(reader, head)
  let samples: Samples | null = null
  for (let b = 0; b < envelope.count.length; b++) {
    const [from, to] = [ends.first[b]!, ends.last[b]!]
    if (to < span.from || from > span.to) continue
    if (fits(from, to)) {
      slots.addExtent((from + to) / 2, inSi(bucketExtent(envelope, b), column))
      continue
    }
    samples ??= readSamples(reader, head)
    const last = Math.min((b + 1) * BUCKET_SAMPLES, head.sampleCount)
    for (let i = b * BUCKET_SAMPLES; i < last; i++) {
      const time = samples.times[i]!
      if (time >= span.from && time <= span.to) slots.add(time, samples.value(i))
    }
  }
}

/** When the first and the last sample of each bucket were taken. */
function bucketEnds({ chunks, runId }: Reader, head: ChunkHead) {
  // Time never decreases, so the lowest and highest time of a bucket are its first and last.
  if (head.startSec !== null && head.marks.length === 0) {
    const { low, high } = chunks.envelope(runId, head.firstSample, 'time')
    return { first: low, last: high }
  }
  const buckets = Math.ceil(head.sampleCount / BUCKET_SAMPLES)
  const at = (sample: number) =>
    head.startSec === null ? head.firstSample + sample : timeOfSample(head.marks, sample)
  return {
    first: Float64Array.from({ length: buckets }, (_, b) => at(b * BUCKET_SAMPLES)),
    last: Float64Array.from({ length: buckets }, (_, b) =>
      at(Math.min((b + 1) * BUCKET_SAMPLES, head.sampleCount) - 1),
    ),
  }
}

interface Samples {
  readonly times: Float64Array
  value(i: number): number
}

function readSamples({ chunks, runId, column }: Reader, head: ChunkHead): Samples {
  const stored = chunks.data(runId, head.firstSample, column.columnName)
  const { factor, offset } = column.line ?? { factor: 1, offset: 0 }
  return {
    times: chunkTimes(chunks, runId, head),
    value: i => factor * stored[i]! + offset,
  }
}

/** A stored extent in SI. A negative factor exchanges lowest and highest. */
function inSi(extent: Extent, { line }: RunColumn): Extent {
  if (!line) return extent
  const { factor, offset } = line
  const [low, high] = factor < 0 ? [extent.high, extent.low] : [extent.low, extent.high]
  return {
    low: factor * low + offset,
    mean: factor * extent.mean + offset,
    high: factor * high + offset,
    count: extent.count,
  }
}
