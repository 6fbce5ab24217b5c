import type { Store } from '../../server/store/store.ts'
import type { Quantity } from '../../src/records/quantity.ts'
import type { TestRun } from '../../src/records/test-run.ts'

/** Stores a practice run as a rig logs it: declared channels, counts, edges. Returns its number. */
export function storeLoggedRun(store: Store, motorId: number, run: TestRun): number {
  const { timeSec, columns, edges, traits, sampleCount } = run.recording
  const channels = (Object.keys(columns) as Quantity[]).map(quantity => {
    const own = traits[quantity]
    if (!own?.resolution) throw new Error(`${quantity}: a rig declares what a count is worth`)
    return { name: quantity, quantity, scale: own.resolution, offset: 0, traits: own }
  })
  const counts = new Int16Array(sampleCount * channels.length)
  channels.forEach(({ quantity, scale }, c) => {
    columns[quantity]!.forEach((value, i) => {
      counts[i * channels.length + c] = Math.round(value / scale)
    })
  })
  const intervalSec = timeSec![1]! - timeSec![0]!
  const writer = store.runs.begin({
    motorId,
    kind: run.kind,
    origin: 'rig',
    conditions: run.conditions,
    benchId: null,
    rig: null,
    channels,
    rateHz: 1 / intervalSec,
    plan: null,
    source: null,
  })
  writer.samples({ firstSequence: 0, startSec: timeSec![0]!, intervalSec, sampleCount, counts })
  for (const edge of edges) writer.edge(edge)
  writer.finish('complete', '', null)
  return writer.runId
}
