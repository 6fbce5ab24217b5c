import { QUANTITIES } from '../../src/records/quantity.ts'
import { BlockOrder } from './block-order.ts'
import type { ColumnForm } from './column-code.ts'
import { type ColumnFormat, OpenChunk } from './open-chunk.ts'
import type { ColumnPiece, SampleBlock } from './run-record.ts'

/** Cuts what comes in into chunks. Full ones wait until they are stored; one is being filled. */
export class SampleIntake {
  /** Set by the channels, or by the first piece of columns. */
  formats: readonly ColumnFormat[]
  full: OpenChunk[] = []
  open: OpenChunk | null = null
  samples = 0
  firstSec: number | null = null
  lastSec: number | null = null
  readonly #channels: number
  readonly #order: BlockOrder

  /** Of a run of raw counts in so many channels; 0 for columns in SI. */
  constructor(channels: number) {
    this.#channels = channels
    this.#order = new BlockOrder(channels)
    this.formats = Array.from({ length: channels }, (_, i) => ({ name: `#${i}`, form: 'counts' }))
  }

  /** Takes a block of counts in; returns how many sequence numbers are missing before it. */
  block(block: SampleBlock): number {
    const { firstSequence, startSec, intervalSec, sampleCount, counts } = block
    const channels = this.#channels
    const missing = this.#order.accept(block)
    if (sampleCount === 0) return 0
    for (let done = 0; done < sampleCount; ) {
      const take = Math.min(this.#chunk().room, sampleCount - done)
      const mark = {
        index: 0,
        sequence: firstSequence + done,
        startSec: startSec + done * intervalSec,
        intervalSec,
      }
      this.#append(take, mark, (column, values, at) => {
        for (let i = 0, from = done * channels + column; i < take; i++, from += channels) {
          values[at + i] = counts[from]!
        }
      })
      done += take
    }
    this.firstSec ??= startSec
    this.lastSec = startSec + (sampleCount - 1) * intervalSec
    return missing
  }

  /** Takes rows in SI in. */
  piece(piece: ColumnPiece): void {
    if (this.#channels > 0) throw new RangeError('columns in SI in a run of raw counts')
    const given = columnsOf(piece)
    if (this.samples === 0) this.formats = given.map(({ name, form }) => ({ name, form }))
    const length = given[0]?.values.length ?? 0
    this.#checkPiece(given, length)
    const { timeSec } = piece
    if (timeSec) checkTimes(timeSec, this.lastSec)
    for (let done = 0; done < length; ) {
      const take = Math.min(this.#chunk().room, length - done)
      this.#append(take, null, (column, values, at) => {
        values.set(given[column]!.values.subarray(done, done + take), at)
      })
      done += take
    }
    if (timeSec && length > 0) {
      this.firstSec ??= timeSec[0]!
      this.lastSec = timeSec[length - 1]!
    }
  }

  #chunk(): OpenChunk {
    this.open ??= new OpenChunk(this.samples, this.formats)
    return this.open
  }

  #append(take: number, ...rest: [Parameters<OpenChunk['append']>[1], ColumnFill]): void {
    const chunk = this.#chunk()
    chunk.append(take, ...rest)
    this.samples += take
    if (chunk.room > 0) return
    this.full.push(chunk)
    this.open = null
  }

  #checkPiece(given: readonly GivenColumn[], length: number): void {
    const [names, expected] = [given, this.formats].map(list => list.map(column => column.name))
    if (names!.join() !== expected!.join()) {
      throw new RangeError(`columns ${names}; must be ${expected} as before`)
    }
    const uneven = given.find(column => column.values.length !== length)
    if (uneven) {
      throw new RangeError(
        `column ${uneven.name} has ${uneven.values.length} rows; must have ${length}`,
      )
    }
  }
}

export type ColumnFill = (column: number, values: Float64Array, at: number) => void

interface GivenColumn {
  readonly name: string
  readonly form: ColumnForm
  readonly values: Float64Array | Uint8Array
}

function columnsOf({ timeSec, columns, bridge }: ColumnPiece): GivenColumn[] {
  const real = (name: string, values: Float64Array | null | undefined): GivenColumn[] =>
    values ? [{ name, form: 'real', values }] : []
  return [
    ...real('time', timeSec),
    ...QUANTITIES.flatMap(quantity => real(quantity, columns[quantity])),
    ...(bridge ? [{ name: 'bridge', form: 'code' as const, values: bridge }] : []),
  ]
}

function checkTimes(timeSec: Float64Array, lastSec: number | null): void {
  let before = lastSec ?? Number.NEGATIVE_INFINITY
  for (const time of timeSec) {
    if (!(time >= before) || !Number.isFinite(time)) {
      throw new RangeError(`timeSec = ${time}; must be a number >= ${before}`)
    }
    before = time
  }
}
