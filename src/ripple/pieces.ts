import { BRIDGE, type BridgeEdge } from '../records/recording.ts'
import type { RunSignals, Signal } from '../signals/run-signals.ts'
import { usualPeriodSec } from '../signals/usual-period.ts'

/** Samples `start` to `end` (exclusive), evenly spaced and without gaps, over which one channel shows the ripple. */
export interface RipplePiece {
  readonly start: number
  readonly end: number
  /** Closed terminals: the current ripples. Open ones: the terminal voltage is the back-EMF, ripple included. */
  readonly terminals: 'closed' | 'open'
  /** Whether the bridge was told at its start to go on as before: then it follows on the piece before. */
  readonly continues: boolean
}

export interface Pieces {
  readonly periodSec: number
  readonly pieces: readonly RipplePiece[]
  /** Samples left out because a channel stood at the end of its range. */
  readonly saturated: number
}

/** Single missing samples are bridged by a straight line; a longer hole begins a new piece. */
export const LONGEST_HOLE = 3
const SHORTEST_PIECE = 32
/** Stamps may stray by this share of a period. */
const STAMP_TOLERANCE = 0.3
/** After the bridge opens, the current counts as gone below this share of its reach, or 5 σ. */
const GONE_SHARE = 0.01
/** … which says nothing where that is more than this share of it. */
const MOST_GONE_SHARE = 0.2
/** A few samples at the end of a range are clipped peaks; this share of a piece makes it useless. */
const CLIPPED_SHARE = 0.002

/** Cuts a run where its bridge changed state or voltage, at holes, and where a channel was saturated. */
export function cutPieces(signals: RunSignals): Pieces {
  const time = signals.timeSec!
  const periodSec = usualPeriodSec(time)
  const open = openFlags(signals)
  const bounds = new Set<number>([0, signals.count])
  for (let i = 1; i < signals.count; i++) {
    if (open[i] !== open[i - 1]) bounds.add(i)
    if (time[i]! - time[i - 1]! > (1 + LONGEST_HOLE + STAMP_TOLERANCE) * periodSec) bounds.add(i)
  }
  const { edges } = signals.run.recording
  for (const { timeSec } of edges) bounds.add(firstAfter(time, timeSec))
  const repeats = new Set(
    edges
      .filter((edge, e) => e > 0 && isRepeated(edges[e - 1]!, edge))
      .map(({ timeSec }) => firstAfter(time, timeSec)),
  )
  const sorted = [...bounds].sort((a, b) => a - b)
  const pieces: RipplePiece[] = []
  let saturated = 0
  for (let b = 0; b + 1 < sorted.length; b++) {
    const [start, end] = [sorted[b]!, sorted[b + 1]!]
    const terminals = open[start] ? 'open' : 'closed'
    const channels = terminals === 'open' ? [signals.voltage] : [signals.current, signals.voltage]
    for (const piece of withoutHoles(channels, start, end)) {
      const clipped = clippedSamples(channels[0] ?? null, piece.start, piece.end)
      if (clipped > CLIPPED_SHARE * (piece.end - piece.start)) saturated += piece.end - piece.start
      else pieces.push({ ...piece, terminals, continues: repeats.has(piece.start) })
    }
  }
  return { periodSec, pieces, saturated }
}

const isRepeated = (before: BridgeEdge, edge: BridgeEdge) =>
  edge.setVolt !== null && edge.setVolt === before.setVolt && edge.state === before.state

/**
 * Open terminals: the bridge says coast, or no current flows while there is a voltage. In either case not before
 * the current has died away.
 */
function openFlags({ run, current, voltage, count }: RunSignals): Uint8Array {
  const flags = new Uint8Array(count)
  const { bridge } = run.recording
  const gone = current ? Math.max(5 * current.noise, GONE_SHARE * current.reach) : 0
  // A current that drowns in its noise does not tell open terminals from closed ones.
  const tells = current !== null && gone < MOST_GONE_SHARE * current.reach
  const there = voltage ? Math.max(5 * voltage.noise, GONE_SHARE * voltage.reach) : 0
  let away = 0
  for (let i = 0; i < count; i++) {
    const amp = current?.values[i]
    const still = amp === undefined || Number.isNaN(amp) || Math.abs(amp) <= gone
    away = still ? away + 1 : 0
    const code = bridge?.[i] ?? BRIDGE.unknown
    if (code === BRIDGE.coast) flags[i] = away > 0 || flags[i - 1] === 1 ? 1 : 0
    else if (code === BRIDGE.unknown && tells && voltage) {
      const applied = Math.abs(voltage.values[i]!) > there
      flags[i] = away > 8 && applied ? 1 : 0
    }
  }
  return flags
}

function withoutHoles(
  channels: readonly (Signal | null)[],
  start: number,
  end: number,
): { start: number; end: number }[] {
  const [first, second] = channels.filter(channel => channel !== null).map(({ values }) => values)
  if (first === undefined) return []
  const found: { start: number; end: number }[] = []
  let from = -1
  let missing = 0
  for (let i = start; i <= end; i++) {
    const hole =
      i === end || Number.isNaN(first[i]!) || (second !== undefined && Number.isNaN(second[i]!))
    missing = hole ? missing + 1 : 0
    if (!hole && from < 0) from = i
    if (from >= 0 && (missing > LONGEST_HOLE || i === end)) {
      const to = i - missing + 1
      if (to - from >= SHORTEST_PIECE) found.push({ start: from, end: to })
      from = -1
    }
  }
  return found
}

function clippedSamples(signal: Signal | null, start: number, end: number): number {
  if (!signal) return 0
  const { rangeLow, rangeHigh, resolution } = signal.traits
  if (rangeLow === null && rangeHigh === null) return flatTopSamples(signal.values, start, end)
  const low = (rangeLow ?? Number.NEGATIVE_INFINITY) + 0.5 * (resolution ?? 0)
  const high = (rangeHigh ?? Number.POSITIVE_INFINITY) - 0.5 * (resolution ?? 0)
  let count = 0
  for (let i = start; i < end; i++) {
    if (signal.values[i]! <= low || signal.values[i]! >= high) count++
  }
  return count
}

/** A range that is not known shows where so much of a piece stands at its highest or lowest value … */
const FLAT_SHARE = 0.05
/** … and so many times as much as at the value next to it: coarse steps alone do not do that. */
const FLAT_STEEPNESS = 6

function flatTopSamples(values: Float64Array, start: number, end: number): number {
  const flat = (sign: 1 | -1) => {
    const [top, next] = [
      { value: Number.NEGATIVE_INFINITY, count: 0 },
      { value: Number.NEGATIVE_INFINITY, count: 0 },
    ]
    for (let i = start; i < end; i++) {
      const value = sign * values[i]!
      if (value === top.value) top.count++
      else if (value > top.value) {
        next.value = top.value
        next.count = top.count
        top.value = value
        top.count = 1
      } else if (value === next.value) next.count++
      else if (value > next.value) {
        next.value = value
        next.count = 1
      }
    }
    // At nought a channel rests.
    const isFlat =
      top.value !== 0 &&
      top.count > FLAT_SHARE * (end - start) &&
      top.count > FLAT_STEEPNESS * next.count
    return isFlat ? top.count : 0
  }
  return Math.max(flat(1), flat(-1))
}

function firstAfter(time: Float64Array, moment: number): number {
  let low = 0
  let high = time.length
  while (low < high) {
    const middle = (low + high) >> 1
    if (time[middle]! <= moment) low = middle + 1
    else high = middle
  }
  return low
}

/** Values of a stretch with single missing samples bridged by straight lines. */
export function bridged(values: Float64Array, start: number, end: number): Float64Array {
  const out = values.slice(start, end)
  for (let i = 0; i < out.length; i++) {
    if (!Number.isNaN(out[i]!)) continue
    let next = i
    while (next < out.length && Number.isNaN(out[next]!)) next++
    const before = i > 0 ? out[i - 1]! : out[next]!
    const after = next < out.length ? out[next]! : before
    const span = next - i + 1
    for (let k = i; k < next; k++) out[k] = before + ((k - i + 1) / span) * (after - before)
    i = next
  }
  return out
}
