import type { Quantity } from '../records/quantity.ts'
import type { Recording } from '../records/recording.ts'

/** Recordings of one bench, each with the time at which it began, as one with gaps of time between. */
export function joinRecordings(
  parts: readonly { readonly startSec: number; readonly recording: Recording }[],
): Recording {
  const first = parts[0]!.recording
  const sampleCount = parts.reduce((sum, { recording }) => sum + recording.sampleCount, 0)
  const timeSec = new Float64Array(sampleCount)
  const bridge = first.bridge && new Uint8Array(sampleCount)
  const columns: Partial<Record<Quantity, Float64Array>> = {}
  for (const name of Object.keys(first.columns) as Quantity[]) {
    columns[name] = new Float64Array(sampleCount)
  }
  let at = 0
  for (const { startSec, recording } of parts) {
    recording.timeSec!.forEach((time, i) => {
      timeSec[at + i] = startSec + time
    })
    for (const [name, column] of Object.entries(columns)) {
      column.set(recording.columns[name as Quantity]!, at)
    }
    if (bridge) bridge.set(recording.bridge!, at)
    at += recording.sampleCount
  }
  return {
    ...first,
    sampleCount,
    timeSec,
    columns,
    bridge,
    edges: parts.flatMap(({ startSec, recording }) =>
      recording.edges.map(edge => ({ ...edge, timeSec: startSec + edge.timeSec })),
    ),
  }
}
