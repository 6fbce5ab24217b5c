import type { Calibration } from '../../src/records/calibration.ts'
import type { Quantity } from '../../src/records/quantity.ts'
import {
  BRIDGE,
  type BridgeEdge,
  type ChannelTraits,
  type Recording,
} from '../../src/records/recording.ts'
import {
  type CountsToSi,
  calibrate,
  calibratedTraits,
  countsToSi,
} from '../../src/signals/calibration.ts'
import type { ChunkHead, ChunkTable } from './chunks.ts'
import type { RunRecord } from './run-record.ts'
import { readTimes } from './run-times.ts'

/** Where a quantity of a run is found, and how its stored numbers become SI. */
export interface RunColumn {
  readonly quantity: Quantity
  readonly columnName: string
  /** Null where the column is in SI already. */
  readonly line: CountsToSi | null
  readonly traits: ChannelTraits | null
}

/** The columns of a run. Where a rig has two channels of one quantity, the first is the quantity's. */
export function columnsOf(run: RunRecord, calibrations: readonly Calibration[]): RunColumn[] {
  return run.quantities.map(quantity => {
    const index = run.channels.findIndex(channel => channel.quantity === quantity)
    const channel = run.channels[index]
    if (!channel) return { quantity, columnName: quantity, line: null, traits: null }
    const calibration = calibrations.find(each => each.channel === channel.name) ?? null
    return {
      quantity,
      columnName: `#${index}`,
      line: countsToSi(channel, calibration),
      traits: calibratedTraits(channel, calibration),
    }
  })
}

/** Samples `from` up to `to` of a run, calibrated, in SI. */
export function readRecording(
  chunks: ChunkTable,
  run: RunRecord,
  columns: readonly RunColumn[],
  edges: readonly BridgeEdge[],
  from: number,
  to: number,
): Recording {
  const sampleCount = Math.max(0, to - from)
  const heads = sampleCount > 0 ? chunks.heads(run.id, from, to) : []
  const hasBridge = heads[0] && chunks.columnNames(run.id, heads[0].firstSample).includes('bridge')
  const timeSec = run.durationSec === null ? null : new Float64Array(sampleCount)
  const bridge = hasBridge ? new Uint8Array(sampleCount) : null
  const values = columns.map(() => new Float64Array(sampleCount))
  for (const head of heads) {
    const part = overlap(head, from, to)
    if (timeSec) readTimes(chunks, run.id, head, part, timeSec)
    if (bridge) {
      const codes = chunks.data(run.id, head.firstSample, 'bridge')
      bridge.set(codes.subarray(part.start, part.end), part.at)
    }
    for (const [i, column] of columns.entries()) {
      readValues(chunks, run.id, head, part, column, values[i]!)
    }
  }
  return {
    sampleCount,
    timeSec,
    columns: Object.fromEntries(columns.map(({ quantity }, i) => [quantity, values[i]])),
    bridge: bridge ?? (timeSec && edges.length > 0 ? bridgeFromEdges(timeSec, edges) : null),
    edges,
    traits: Object.fromEntries(
      columns.flatMap(({ quantity, traits }) => (traits ? [[quantity, traits]] : [])),
    ),
  }
}

/** Samples `start` up to `end` of a chunk, which go to position `at`. */
interface Part {
  readonly start: number
  readonly end: number
  readonly at: number
}

function overlap(head: ChunkHead, from: number, to: number): Part {
  const start = Math.max(0, from - head.firstSample)
  return {
    start,
    end: Math.min(head.sampleCount, to - head.firstSample),
    at: head.firstSample + start - from,
  }
}

function readValues(
  chunks: ChunkTable,
  runId: number,
  head: ChunkHead,
  { start, end, at }: Part,
  { columnName, line }: RunColumn,
  into: Float64Array,
): void {
  const stored = chunks.data(runId, head.firstSample, columnName)
  if (line) calibrate(stored, start, end, line, into, at)
  else into.set(stored.subarray(start, end), at)
}

/** The bridge's state at every sample: that of the last edge before it, unknown before the first. */
function bridgeFromEdges(timeSec: Float64Array, edges: readonly BridgeEdge[]): Uint8Array {
  const codes = new Uint8Array(timeSec.length).fill(BRIDGE.unknown)
  let next = 0
  let code: number = BRIDGE.unknown
  for (const [i, time] of timeSec.entries()) {
    while (next < edges.length && edges[next]!.timeSec <= time) code = BRIDGE[edges[next++]!.state]
    codes[i] = code
  }
  return codes
}
