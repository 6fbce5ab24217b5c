import { sequenceOfSample, timeOfSample } from '../../src/signals/time-marks.ts'
import type { ChunkHead } from './chunks.ts'
import type { SequenceGap } from './run-record.ts'

/** The places between and within the chunks where sequence numbers jump. */
export function sequenceGaps(heads: readonly ChunkHead[]): SequenceGap[] {
  const gaps: SequenceGap[] = []
  let before: { sequence: number; sec: number } | null = null
  for (const { firstSample, sampleCount, marks } of heads) {
    for (const [m, mark] of marks.entries()) {
      const first = Math.max(0, mark.index)
      const sequence = sequenceOfSample(marks, first)
      if (before && sequence > before.sequence + 1) {
        gaps.push({
          afterSample: firstSample + first - 1,
          missing: sequence - before.sequence - 1,
          fromSec: before.sec,
          toSec: timeOfSample(marks, first),
        })
      }
      const last = (marks[m + 1]?.index ?? sampleCount) - 1
      before = { sequence: sequenceOfSample(marks, last), sec: timeOfSample(marks, last) }
    }
  }
  return gaps
}
