import type { ChannelDeclaration } from '../../src/protocol/channel.ts'
import { countToSi } from '../../src/protocol/counts.ts'
import type { ChannelReading } from './bench-session.ts'
import type { SampleChunk } from './run-log.ts'

/** Mean and scatter of every channel's counts while nothing moves (Welford's update). */
export class RestReading {
  readonly #mean: Float64Array
  readonly #squares: Float64Array
  #samples = 0

  constructor(channels: number) {
    this.#mean = new Float64Array(channels)
    this.#squares = new Float64Array(channels)
  }

  get samples(): number {
    return this.#samples
  }

  add({ counts, sampleCount }: SampleChunk): void {
    const channels = this.#mean.length
    for (let i = 0; i < sampleCount; i++) {
      this.#samples++
      for (let c = 0; c < channels; c++) {
        const away = counts[i * channels + c]! - this.#mean[c]!
        this.#mean[c]! += away / this.#samples
        this.#squares[c]! += away * (counts[i * channels + c]! - this.#mean[c]!)
      }
    }
  }

  /** A standard deviation of NaN where there are fewer than two samples. */
  readings(channels: readonly ChannelDeclaration[]): ChannelReading[] {
    return channels.map((channel, c) => ({
      channel: channel.name,
      quantity: channel.quantity,
      meanCounts: this.#mean[c]!,
      standardDeviationCounts:
        this.#samples > 1 ? Math.sqrt(this.#squares[c]! / (this.#samples - 1)) : Number.NaN,
      samples: this.#samples,
      meanSi: countToSi(channel, this.#mean[c]!),
    }))
  }
}
