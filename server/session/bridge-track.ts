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

  /** `BRIDGE` code at a time; times must not fall. */
  at(timeUs: number): number {
    for (let next = this.#coming[0]; next && next.timeUs <= timeUs; next = this.#coming[0]) {
      this.#code = next.code
      this.#coming.shift()
    }
    return this.#code
  }
}
