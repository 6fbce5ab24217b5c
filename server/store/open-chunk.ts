import {
  appendMark,
  sliceMarks,
  type TimeMark,
  timeOfSample,
} from '../../src/signals/time-marks.ts'
import { type ColumnForm, type ColumnRow, encodeColumn } from './column-code.ts'

/** Samples in a full chunk. */
export const CHUNK_SAMPLES = 65_536

export interface ColumnFormat {
  readonly name: string
  readonly form: ColumnForm
}

/** One chunk, ready to be stored. */
export interface ChunkRow {
  readonly firstSample: number
  readonly sampleCount: number
  readonly startSec: number | null
  readonly endSec: number | null
  readonly marks: readonly TimeMark[]
  readonly columns: readonly { readonly name: string; readonly row: ColumnRow }[]
}

/** The chunk of a run that is being filled. */
export class OpenChunk {
  readonly firstSample: number
  readonly #formats: readonly ColumnFormat[]
  readonly #values: readonly Float64Array[]
  readonly #marks: TimeMark[] = []
  #count = 0

  constructor(firstSample: number, formats: readonly ColumnFormat[]) {
    this.firstSample = firstSample
    this.#formats = formats
    this.#values = formats.map(() => new Float64Array(CHUNK_SAMPLES))
  }

  get count(): number {
    return this.#count
  }

  get room(): number {
    return CHUNK_SAMPLES - this.#count
  }

  get formats(): readonly ColumnFormat[] {
    return this.#formats
  }

  /**
   * Takes samples in: `fill(column, values, at)` writes `samples` values of a column from `at` on. The
   * mark's index counts from the first of them.
   */
  append(
    samples: number,
    mark: TimeMark | null,
    fill: (column: number, values: Float64Array, at: number) => void,
  ): void {
    if (samples > this.room) throw new RangeError(`samples = ${samples}; must be <= ${this.room}`)
    if (mark) appendMark(this.#marks, { ...mark, index: this.#count + mark.index })
    for (const [column, values] of this.#values.entries()) fill(column, values, this.#count)
    this.#count += samples
  }

  /** Samples `from` up to `to` of this chunk as a chunk of their own. */
  slice(from: number, to: number): ChunkRow {
    const time = this.#formats.findIndex(format => format.name === 'time')
    const timeAt = (sample: number): number | null => {
      if (this.#marks.length > 0) return timeOfSample(this.#marks, sample)
      return time < 0 ? null : this.#values[time]![sample]!
    }
    return {
      firstSample: this.firstSample + from,
      sampleCount: to - from,
      startSec: timeAt(from),
      endSec: timeAt(to - 1),
      marks: this.#marks.length > 0 ? sliceMarks(this.#marks, from, to) : [],
      columns: this.#formats.map(({ name, form }, column) => ({
        name,
        row: encodeColumn(this.#values[column]!.subarray(from, to), form),
      })),
    }
  }
}
