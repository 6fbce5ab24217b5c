import type { LinkCounters, LiveEvent } from '../../src/contract/live.ts'
import { newWatch, type WatchRules, watchSamples } from '../../src/procedure/watch.ts'
import { printableBytes } from '../../src/protocol/printable.ts'
import { BYTE } from '../../src/protocol/wire.ts'
import type { Quantity } from '../../src/records/quantity.ts'
import type { Link } from '../link/link.ts'
import type { RecordedRun } from '../recorder/recorder.ts'
import type { ColumnPiece } from '../store/run-record.ts'
import { Envelopes } from './envelopes.ts'
import { LineSorter } from './line-sorter.ts'
import type { PlainRow, PlainRows } from './plain-rows.ts'
import { watchedSamples } from './watched-samples.ts'

/** Rows that are handed on together, and how long one may wait for that. */
const PIECE_ROWS = 256
const PIECE_MS = 100
/** So many rows in a row whose time has fallen: the rig has started anew. */
const FALLEN_BACK_ROWS = 20

export interface PlainLogging {
  readonly link: Link
  readonly rows: PlainRows
  readonly run: RecordedRun
  /** Null: until the signal aborts. */
  readonly durationSec: number | null
  readonly signal: AbortSignal
  readonly emit: (event: LiveEvent) => void
  /**
   * What is watched. Nothing can be switched off from here, so that a trip is only told: the
   * operator's hand is on the supply.
   */
  readonly rules: WatchRules | null
}

export interface PlainOutcome {
  readonly ending: 'complete' | 'stopped' | 'link-lost'
  readonly text: string
  readonly counters: LinkCounters
}

/** Logs a rig that only prints numbers, through the same store and counters as any other. */
export async function logPlain(logging: PlainLogging): Promise<PlainOutcome> {
  const log = new PlainLog(logging)
  const { link, durationSec, signal, run } = logging
  const finished = new AbortController()
  const timer = durationSec === null ? null : setTimeout(() => finished.abort(), durationSec * 1000)
  const flush = setInterval(() => log.flush(), PIECE_MS)
  const onAbort = () => finished.abort()
  signal.addEventListener('abort', onAbort)
  if (signal.aborted) onAbort()
  let lost: string | null = null
  try {
    for await (const chunk of link.bytes(finished.signal)) {
      log.push(chunk)
      if (log.fellBack) {
        lost = 'the time that the rig prints fell back: it has started anew'
        break
      }
    }
  } catch (error) {
    lost = (error as Error).message
  } finally {
    signal.removeEventListener('abort', onAbort)
    clearInterval(flush)
    if (timer !== null) clearTimeout(timer)
  }
  log.flush()
  const counters = log.counters
  const outcome: PlainOutcome =
    lost !== null
      ? { ending: 'link-lost', text: lost, counters }
      : signal.aborted
        ? { ending: 'stopped', text: 'stopped by the operator', counters }
        : { ending: 'complete', text: 'the time asked for is over', counters }
  await run.finish(outcome.ending, outcome.text, counters)
  return outcome
}

class PlainLog {
  fellBack = false
  readonly #logging: PlainLogging
  readonly #sorter: LineSorter
  readonly #quantities: readonly (Quantity | 'bridge')[]
  readonly #envelopes: Envelopes
  readonly #watch = newWatch()
  #rows: PlainRow[] = []
  /** The port was opened in the middle of a line; or a line without end is passing. */
  #skipsLine = true
  #fallenBack = 0
  #counters = { samples: 0, samplesLost: 0, linesRejected: 0, bytes: 0 }

  constructor(logging: PlainLogging) {
    this.#logging = logging
    this.#quantities = logging.rows.columns.map(column => column.quantity as Quantity | 'bridge')
    this.#envelopes = new Envelopes(this.#measured(), envelope =>
      logging.emit({ type: 'envelope', runId: logging.run.runId, ...envelope }),
    )
    this.#sorter = new LineSorter((bytes, start, end) => this.#line(bytes.subarray(start, end)))
  }

  get counters(): LinkCounters {
    return { ...this.#counters }
  }

  push(chunk: Uint8Array): void {
    this.#counters.bytes += chunk.length
    this.#sorter.push(chunk)
  }

  flush(): void {
    const rows = this.#rows
    if (rows.length === 0) return
    this.#rows = []
    const piece = this.#pieceOf(rows)
    this.#logging.run.columns(piece)
    this.#logging.emit({ type: 'counters', counters: this.counters })
    const { timeSec, bridge } = piece
    if (timeSec === null) return
    const columns = this.#measured().map(quantity => piece.columns[quantity]!)
    this.#envelopes.add(timeSec, columns, rows.length)
    this.#judge(piece, timeSec, bridge)
  }

  #measured(): Quantity[] {
    return this.#quantities.filter(quantity => quantity !== 'bridge')
  }

  #line(line: Uint8Array): void {
    const isWhole = line.at(-1) === BYTE.lineFeed
    if (this.#skipsLine) {
      this.#skipsLine = !isWhole
      return
    }
    if (!isWhole) {
      this.#skipsLine = true
      this.#reject(line, 'no line end within 1024 bytes')
      return
    }
    const text = Buffer.from(line).toString('latin1')
    if (text.trim() === '') return
    const row = this.#logging.rows.read(text)
    if (!row.ok) {
      this.#reject(line, row.error)
      this.#fallenBack = /does not follow/.test(row.error) ? this.#fallenBack + 1 : 0
      if (this.#fallenBack >= FALLEN_BACK_ROWS) this.fellBack = true
      return
    }
    this.#fallenBack = 0
    this.#take(row.value)
  }

  #take(row: PlainRow): void {
    this.#counters.samples++
    if (row.missing > 0) {
      this.#counters.samplesLost += row.missing
      this.#logging.run.lost(row.missing, 'link')
      const text = `${row.missing} rows are missing before this time, by the rhythm of the others`
      this.#logging.run.note(row.timeSec, 'gap', text)
    }
    this.#rows.push(row)
    if (this.#rows.length >= PIECE_ROWS) this.flush()
  }

  #reject(line: Uint8Array, reason: string): void {
    this.#counters.linesRejected++
    const end = line.at(-1) === BYTE.lineFeed ? line.length - 1 : line.length
    this.#logging.run.rejected(printableBytes(line, 0, end), reason)
  }

  #pieceOf(rows: readonly PlainRow[]): ColumnPiece {
    const columns: Partial<Record<Quantity, Float64Array>> = {}
    let bridge: Uint8Array | null = null
    this.#quantities.forEach((quantity, c) => {
      if (quantity === 'bridge') bridge = Uint8Array.from(rows, row => row.values[c]!)
      else columns[quantity] = Float64Array.from(rows, row => row.values[c]!)
    })
    const { hasTime } = this.#logging.rows
    const timeSec = hasTime ? Float64Array.from(rows, row => row.timeSec!) : null
    return { timeSec, columns, bridge }
  }

  #judge(piece: ColumnPiece, timeSec: Float64Array, bridge: Uint8Array | null): void {
    const { rules, emit, run } = this.#logging
    if (rules === null) return
    const samples = watchedSamples(
      timeSec.length,
      timeSec,
      bridge,
      quantity => piece.columns[quantity],
    )
    const trip = watchSamples(this.#watch, samples, rules)
    if (trip === null) return
    const text = `${trip.text}; this rig cannot be stopped from here: switch its supply off`
    run.note(trip.timeSec, trip.code, text)
    emit({ type: 'trip', by: 'host', code: trip.code, text })
  }
}
