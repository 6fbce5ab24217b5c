import type { WatchedSamples } from '../../src/procedure/watch.ts'
import type { Quantity } from '../../src/records/quantity.ts'

/** What the watch looks at, out of whatever columns there are. */
export function watchedSamples(
  count: number,
  timeSec: Float64Array,
  bridge: Uint8Array | null,
  columnOf: (quantity: Quantity) => Float64Array | undefined,
): WatchedSamples {
  return {
    count,
    timeSec,
    bridge,
    voltage: columnOf('voltage') ?? null,
    current: columnOf('current') ?? null,
    speed: columnOf('speed') ?? null,
    position: columnOf('position') ?? null,
    temperature: columnOf('temperature') ?? null,
  }
}
