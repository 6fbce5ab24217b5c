import type { BridgeMode } from '../../src/protocol/bridge.ts'
import { BRIDGE } from '../../src/records/recording.ts'

/**
 * What the bridge did when a sample was taken: edges come ahead of the samples that follow them
 * (P-3.8), so both sides of an edge may still be on their way when it is known.
 */
export class BridgeTrack {
  #code: number = BRIDGE.coast
  #coming: { readonly timeUs: number; readonly code: number }[] = []

  edge(timeUs: number, mode: BridgeMode): void {
    this.#coming.push({ timeUs, code: BRIDGE[mode] })
  }

  /** `BRIDGE` codes of samples `periodUs` apart into `codes[0 … count)`; times must not fall. */
  fill(codes: Uint8Array, count: number, startUs: number, periodUs: number): void {
    for (let from = 0; from < count; ) {
      const nowUs = startUs + from * periodUs
      for (let next = this.#coming[0]; next && next.timeUs <= nowUs; next = this.#coming[0]) {
        this.#code = next.code
        this.#coming.shift()
      }
      const nextUs = this.#coming[0]?.timeUs ?? Number.POSITIVE_INFINITY
      // The first sample at or after the next edge begins another stretch.
      const stretch = Math.max(1, Math.ceil((nextUs - nowUs) / periodUs))
      const to = Math.min(count, from + stretch)
      codes.fill(this.#code, from, to)
      from = to
    }
  }
}
