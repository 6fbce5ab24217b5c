import { CounterWatch } from './counter-wraps.ts'
import type { CsvRecording } from './csv-reader.ts'
import { TURN, TurnCounter, TurnWatch } from './turns.ts'

/** What becomes of a position that starts again, and what is said of it. */
export interface PositionCourse {
  readonly turns: TurnCounter | null
  readonly remark: string | null
}

/** Only the whole file tells a position that starts again from a shaft that hardly moves. */
export async function lookAtPosition(recording: CsvRecording): Promise<PositionCourse> {
  const index = recording.layout.columns.findIndex(c => c.quantity === 'position')
  const column = recording.layout.columns[index]
  if (!column) return { turns: null, remark: null }
  const turn = new TurnWatch()
  const radPerCount = Math.abs(column.factor)
  const counter = new CounterWatch(radPerCount)
  for await (const batch of recording.batches()) {
    turn.add(batch.columns[index]!)
    counter.add(batch.columns[index]!)
  }
  const fall = counter.fallsBackBy
  const full = counter.fullAt
  const countsATurn = TURN / radPerCount
  const isFullCounter =
    full !== null &&
    fall !== null &&
    !(turn.startsAgain && Math.abs(fall - countsATurn) <= Math.abs(fall - full))
  if (isFullCounter) {
    return {
      turns: new TurnCounter(full * radPerCount),
      remark: `the position is a counter that starts again after ${full} counts: it was counted on`,
    }
  }
  if (turn.startsAgain) {
    return {
      turns: new TurnCounter(),
      remark: 'the position starts again after each turn: it was counted on over the turns',
    }
  }
  if (fall === null || !counter.isSmooth) return { turns: null, remark: null }
  return {
    turns: null,
    remark: `the position falls back by about ${Number(fall.toPrecision(6))} (as its cells count) and runs on: that is neither a turn nor a full counter of a power of two, it was left as it is; if it starts again there, count it on before the import`,
  }
}
