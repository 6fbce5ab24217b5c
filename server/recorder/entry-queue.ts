import type { TransferListItem } from 'node:worker_threads'
import type { SampleBlock } from '../store/run-record.ts'
import { GrowingBlock } from './growing-block.ts'
import type { LogEntry } from './messages.ts'
import type { SpareMemory } from './spare-memory.ts'

interface Taken {
  readonly entries: LogEntry[]
  readonly bytes: number
  readonly samples: number
  readonly transfer: TransferListItem[]
}

/** What waits for the disk: bounded, and what does not fit is counted, never forgotten. */
export class EntryQueue {
  readonly #mostBytes: number
  readonly #spare: SpareMemory
  #entries: LogEntry[] = []
  /** The newest entry while it is one of samples: what follows evenly goes into it. */
  #growing: GrowingBlock | null = null
  /** Counts that the block before it took. */
  #usedBefore = 0
  #bytes = 0
  #samples = 0
  /** Lost since the last entry that found room. */
  #lostSamples = 0
  #lostLines = 0

  constructor(mostBytes: number, spare: SpareMemory) {
    this.#mostBytes = mostBytes
    this.#spare = spare
  }

  get bytes(): number {
    return this.#bytes
  }

  get samples(): number {
    return this.#samples
  }

  get isEmpty(): boolean {
    return (
      this.#entries.length === 0 &&
      this.#growing === null &&
      this.#lostSamples === 0 &&
      this.#lostLines === 0
    )
  }

  /** Returns how many samples did not find room, while `elsewhere` bytes are on their way. Copies counts. */
  push(entry: LogEntry, elsewhere: number): number {
    const bytes = sizeOf(entry)
    const samples = samplesOf(entry)
    if (isBulky(entry) && this.#bytes + elsewhere + bytes > this.#mostBytes) {
      if (samples > 0) this.#lostSamples += samples
      else this.#lostLines++
      return samples
    }
    this.#countLosses()
    if (entry.type === 'samples') this.#gather(entry.block)
    else {
      this.#endBlock()
      this.#entries.push(entry)
    }
    this.#bytes += bytes
    this.#samples += samples
    return 0
  }

  /** Everything that waits, losses counted, with the memory that can be handed over. */
  take(): Taken {
    this.#countLosses()
    this.#endBlock()
    const taken = {
      entries: this.#entries,
      bytes: this.#bytes,
      samples: this.#samples,
      transfer: this.#entries.flatMap(buffersOf),
    }
    this.#entries = []
    this.#bytes = 0
    this.#samples = 0
    return taken
  }

  /** Copies the counts. */
  #gather(block: SampleBlock): void {
    if (block.sampleCount === 0 || this.#growing?.append(block)) return
    this.#endBlock()
    this.#growing = new GrowingBlock(block, this.#usedBefore, this.#spare)
  }

  #endBlock(): void {
    if (this.#growing !== null) {
      this.#entries.push({ type: 'samples', block: this.#growing.block })
      this.#usedBefore = this.#growing.used
    }
    this.#growing = null
  }

  #countLosses(): void {
    if (this.#lostSamples > 0) {
      this.#endBlock()
      this.#entries.push(
        { type: 'lost', samples: this.#lostSamples, where: 'disk' },
        note('samples-lost', `${this.#lostSamples} samples lost: the disk was slower than the rig`),
      )
      this.#lostSamples = 0
    }
    if (this.#lostLines > 0) {
      this.#endBlock()
      this.#entries.push(
        note('lines-lost', `${this.#lostLines} rejected lines not kept: the disk was too slow`),
      )
      this.#lostLines = 0
    }
  }
}

const note = (code: string, text: string): LogEntry => ({
  type: 'note',
  note: { timeSec: null, code, text },
})

/** Samples and rejected lines come in floods; edges, notes and losses are few and always find room. */
const isBulky = (entry: LogEntry): boolean =>
  entry.type === 'samples' || entry.type === 'columns' || entry.type === 'rejected'

function samplesOf(entry: LogEntry): number {
  if (entry.type === 'samples') return entry.block.sampleCount
  return entry.type === 'columns' ? (columnsOf(entry)[0]?.length ?? 0) : 0
}

function sizeOf(entry: LogEntry): number {
  if (entry.type === 'samples') return entry.block.counts.byteLength
  if (entry.type === 'columns') return columnsOf(entry).reduce((sum, c) => sum + c.byteLength, 0)
  return entry.type === 'rejected' ? entry.line.raw.length : 0
}

function buffersOf(entry: LogEntry): TransferListItem[] {
  if (entry.type === 'samples') return [entry.block.counts.buffer as ArrayBuffer]
  if (entry.type === 'columns') return columnsOf(entry).map(c => c.buffer as ArrayBuffer)
  return []
}

function columnsOf({ piece }: LogEntry & { type: 'columns' }): (Float64Array | Uint8Array)[] {
  const columns = [piece.timeSec, ...Object.values(piece.columns), piece.bridge]
  return columns.filter(column => column !== null && column !== undefined)
}
