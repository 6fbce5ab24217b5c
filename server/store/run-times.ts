import { fillTimes } from '../../src/signals/time-marks.ts'
import type { ChunkHead, ChunkTable } from './chunks.ts'

/** Where a chunk lies on the axis of a picture: in time, or in rows where rows are steady readings. */
export const startOf = (head: ChunkHead): number => head.startSec ?? head.firstSample
export const endOf = (head: ChunkHead): number =>
  head.endSec ?? head.firstSample + head.sampleCount - 1

/** Times of samples `start` up to `end` of a chunk, written from position `at` on. */
export function readTimes(
  chunks: ChunkTable,
  runId: number,
  head: ChunkHead,
  part: { readonly start: number; readonly end: number; readonly at: number },
  into: Float64Array,
): void {
  const { start, end, at } = part
  if (head.startSec === null) {
    for (let i = start; i < end; i++) into[at + i - start] = head.firstSample + i
  } else if (head.marks.length > 0) {
    fillTimes(head.marks, start, end, into, at)
  } else {
    into.set(chunks.data(runId, head.firstSample, 'time').subarray(start, end), at)
  }
}

export function chunkTimes(chunks: ChunkTable, runId: number, head: ChunkHead): Float64Array {
  const times = new Float64Array(head.sampleCount)
  readTimes(chunks, runId, head, { start: 0, end: head.sampleCount, at: 0 }, times)
  return times
}

/** The samples from time `from` to time `to`, both included, as the range `from` up to `to`. */
export function samplesBetween(
  chunks: ChunkTable,
  runId: number,
  heads: readonly ChunkHead[],
  from: number,
  to: number,
): { from: number; to: number } {
  /** How many samples there are before the first for which `isPast` holds. */
  const samplesBefore = (isPast: (time: number) => boolean): number => {
    const head = heads.find(each => isPast(endOf(each)))
    if (!head) {
      const last = heads.at(-1)
      return last ? last.firstSample + last.sampleCount : 0
    }
    if (isPast(startOf(head))) return head.firstSample
    const times = chunkTimes(chunks, runId, head)
    let low = 0
    let high = times.length - 1
    while (low < high) {
      const middle = (low + high) >> 1
      if (isPast(times[middle]!)) high = middle
      else low = middle + 1
    }
    return head.firstSample + low
  }
  const first = samplesBefore(time => time >= from)
  return {
    from: first,
    to: Math.max(
      first,
      samplesBefore(time => time > to),
    ),
  }
}
