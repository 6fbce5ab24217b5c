/**
 * Sample times of evenly spaced blocks, kept as the few places where the even spacing starts anew:
 * a gap in the sequence numbers, or a rig whose clock and sampling drifted apart.
 * Between marks, sample i has time = startSec + (i − index) × intervalSec and
 * sequence = sequence + (i − index).
 */
export interface TimeMark {
  /** Sample from which the mark holds; negative where that lies before the samples at hand. */
  readonly index: number
  readonly sequence: number
  readonly startSec: number
  readonly intervalSec: number
}

/**
 * A block that starts this close to where even spacing puts it needs no mark of its own: half the tick
 * of a clock of 1 µs, so that the time of every sample stays within what the rig's stamp can tell.
 */
export const MARK_TOLERANCE_SEC = 0.5e-6

/** Appends the mark of a block, unless the last mark already says the same. */
export function appendMark(marks: TimeMark[], block: TimeMark): void {
  const last = marks.at(-1)
  if (last !== undefined) {
    const samples = block.index - last.index
    if (
      last.intervalSec === block.intervalSec &&
      last.sequence + samples === block.sequence &&
      Math.abs(last.startSec + samples * last.intervalSec - block.startSec) <= MARK_TOLERANCE_SEC
    ) {
      return
    }
  }
  marks.push(block)
}

/** Position of the mark that holds for sample `index`. */
export function markFor(marks: readonly TimeMark[], index: number): number {
  let low = 0
  let high = marks.length - 1
  while (low < high) {
    const middle = (low + high + 1) >> 1
    if (marks[middle]!.index <= index) low = middle
    else high = middle - 1
  }
  return low
}

export function timeOfSample(marks: readonly TimeMark[], index: number): number {
  const mark = marks[markFor(marks, index)]!
  return mark.startSec + (index - mark.index) * mark.intervalSec
}

export function sequenceOfSample(marks: readonly TimeMark[], index: number): number {
  const mark = marks[markFor(marks, index)]!
  return mark.sequence + (index - mark.index)
}

/**
 * The marks of samples `from` up to `to`, counted from `from`. The first may lie before: then its index
 * is negative, and every time stays exactly what it was.
 */
export function sliceMarks(marks: readonly TimeMark[], from: number, to: number): TimeMark[] {
  return marks
    .slice(markFor(marks, from))
    .filter(mark => mark.index < to)
    .map(mark => ({ ...mark, index: mark.index - from }))
}

/** Times of samples `from` up to `to`. */
export function fillTimes(
  marks: readonly TimeMark[],
  from: number,
  to: number,
  into: Float64Array,
  at: number,
): void {
  let m = markFor(marks, from)
  for (let i = from; i < to; i++) {
    while (m + 1 < marks.length && marks[m + 1]!.index <= i) m++
    const mark = marks[m]!
    into[at + i - from] = mark.startSec + (i - mark.index) * mark.intervalSec
  }
}
