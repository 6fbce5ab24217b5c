import type { LinkCounters } from '../../src/contract/live.ts'
import type { ReaderCounters } from '../../src/protocol/rig-reader.ts'
import type { IntakeSink } from './sample-intake.ts'

/** What has come and what has not since a connection was made. Counted, never estimated. */
export class Tally {
  readonly #reader: ReaderCounters
  readonly #bytesBefore: number
  readonly #rejectedBefore: number
  #samples = 0
  #samplesLost = 0
  #refused = 0

  /** What came while the rig was being found (boot messages, halves of lines) does not count. */
  constructor(reader: ReaderCounters) {
    this.#reader = reader
    this.#bytesBefore = reader.bytes
    this.#rejectedBefore = reader.rejected
  }

  get counters(): LinkCounters {
    return {
      samples: this.#samples,
      samplesLost: this.#samplesLost,
      linesRejected: this.#reader.rejected - this.#rejectedBefore + this.#refused,
      bytes: this.#reader.bytes - this.#bytesBefore,
    }
  }

  /** The same sink, with everything counted that goes into it. */
  counting(sink: Partial<IntakeSink>): IntakeSink {
    return {
      lost: loss => {
        this.#samplesLost += loss.link + loss.rig
        sink.lost?.(loss)
      },
      chunk: chunk => {
        this.#samples += chunk.sampleCount
        sink.chunk?.(chunk)
      },
      seen: samples => sink.seen?.(samples),
      refused: reason => {
        this.#refused++
        sink.refused?.(reason)
      },
    }
  }
}
