import { BRIDGE } from '../records/recording.ts'
import { voltageJumps } from './jumps.ts'
import type { RunSignals, Signal } from './run-signals.ts'

/**
 * What the bridge and the shaft do together over a stretch of a recording:
 * `drive` a voltage is applied, `coast` terminals open while the shaft turns, `brake` terminals shorted while
 * it turns, `standstill` nothing drives and nothing turns.
 */
export type PhaseKind = 'drive' | 'coast' | 'brake' | 'standstill'

/** Samples `start` to `end` (exclusive); a driven phase has one set voltage. */
export interface Phase {
  readonly kind: PhaseKind
  readonly start: number
  readonly end: number
  /** When the bridge changed state or voltage at its start: logged, else null. */
  readonly edgeSec: number | null
}

export interface FoundPhases {
  readonly phases: readonly Phase[]
  /** The recording did not say what the bridge did, at least in part. */
  readonly inferred: boolean
}

/** Below this share of its reach a current or a voltage counts as none, or else below `NOISES` σ. */
const NOTHING = 0.002
const NOISES = 5
/** A shaft counts as turning above this share of its fastest speed, or else above `TURNING_NOISES` σ. */
const TURNING = 0.01
const TURNING_NOISES = 6
/** Phases shorter than this many samples are no phases. */
const SHORTEST = 4

/**
 * The phases of a recording, split wherever the bridge changed state or the set voltage jumped. Where the
 * bridge was not logged it is inferred: open terminals are current within its noise of zero while the shaft
 * turns and slows down; a brake is current without voltage. A hand-read table has no phases.
 */
export function findPhases(signals: RunSignals): FoundPhases {
  let found = FOUND.get(signals)
  if (!found) {
    found = searchPhases(signals)
    FOUND.set(signals, found)
  }
  return found
}

/** Several analyses ask for the phases of the same signals, which never change. */
const FOUND = new WeakMap<RunSignals, FoundPhases>()

function searchPhases(signals: RunSignals): FoundPhases {
  const { timeSec, count } = signals
  if (!timeSec || count === 0) return { phases: [], inferred: false }
  const logged = signals.run.recording.bridge
  const inferred = !logged || logged.includes(BRIDGE.unknown)
  const turns = turning(signals)
  const kinds = inferred ? inferKinds(signals, turns) : new Uint8Array(count)
  if (logged) {
    for (let i = 0; i < count; i++) {
      const code = logged[i]!
      if (code === BRIDGE.drive) kinds[i] = DRIVE
      else if (code === BRIDGE.coast) kinds[i] = turns[i] ? COAST : STANDSTILL
      else if (code === BRIDGE.brake) kinds[i] = turns[i] ? BRAKE : STANDSTILL
    }
  }
  return { phases: cut(kinds, signals), inferred }
}

/** Kinds of phase by the number that stands for each in a column. */
const KINDS: readonly PhaseKind[] = ['drive', 'coast', 'brake', 'standstill']
const [DRIVE, COAST, BRAKE, STANDSTILL] = [0, 1, 2, 3]

function cut(kinds: Uint8Array, signals: RunSignals): Phase[] {
  const marks = edgeMarks(signals)
  const places = [...marks.keys()].sort((a, b) => a - b)
  const phases: Phase[] = []
  let next = places.findIndex(place => place > 0)
  let start = 0
  let edgeSec = marks.get(0) ?? null
  for (let i = 1; i <= kinds.length; i++) {
    const marked = i === places[next]
    if (marked) next++
    if (i < kinds.length && kinds[i] === kinds[start] && !marked) continue
    if (i - start >= SHORTEST) {
      phases.push({ kind: KINDS[kinds[start]!]!, start, end: i, edgeSec })
    }
    start = i
    edgeSec = marks.get(i) ?? null
  }
  return phases
}

/**
 * First sample after each edge, with the time of the edge where it was logged. A reading stamped with the very
 * time of an edge belongs to what was before it.
 */
function edgeMarks(signals: RunSignals): Map<number, number | null> {
  const marks = new Map<number, number | null>()
  const { edges } = signals.run.recording
  const time = signals.timeSec!
  if (edges.length > 0) {
    for (const edge of edges) {
      const i = firstAfter(time, edge.timeSec)
      if (i < time.length) marks.set(i, edge.timeSec)
    }
    return marks
  }
  if (signals.voltage) for (const i of voltageJumps(signals.voltage.values)) marks.set(i, null)
  return marks
}

function firstAfter(time: Float64Array, moment: number): number {
  const tie = 1e-9 * Math.abs(time[time.length - 1]!)
  let low = 0
  let high = time.length
  while (low < high) {
    const middle = (low + high) >> 1
    if (time[middle]! <= moment + tie) low = middle + 1
    else high = middle
  }
  return low
}

/** Above this magnitude of its speed, rad/s, a shaft counts as turning. */
export const turningLimit = ({ noise, reach }: Signal): number =>
  Math.max(TURNING_NOISES * noise, TURNING * reach)

function turning({ speed, count }: RunSignals): Uint8Array {
  const flags = new Uint8Array(count)
  if (!speed) return flags
  const limit = turningLimit(speed)
  for (let i = 0; i < count; i++) if (Math.abs(speed.values[i]!) > limit) flags[i] = 1
  return flags
}

function inferKinds(signals: RunSignals, turns: Uint8Array): Uint8Array {
  const { count, current, voltage } = signals
  const flows = current ? isSomething(current, count, NOTHING) : flowsUntilSlowing(signals)
  const applied = voltage ? isSomething(voltage, count, NOTHING) : null
  // What a shaft induces that still turns below the limit of turning is no voltage applied to it.
  const held = voltage ? isSomething(voltage, count, TURNING) : null
  const kinds = new Uint8Array(count)
  for (let i = 0; i < count; i++) {
    if (!flows || flows[i]) kinds[i] = applied && !applied[i] && turns[i] ? BRAKE : DRIVE
    else if (turns[i]) kinds[i] = COAST
    else kinds[i] = held?.[i] ? DRIVE : STANDSTILL
  }
  return withoutFalseCoast(kinds, signals)
}

/** Of its fastest speed: where a shaft that coasts has not begun to slow down yet. */
const NOT_YET_SLOWING = 0.998

/**
 * Without a current channel only the kind of the test tells that the terminals are open: a coast-down is one
 * from where its fastest speed ends. Null for other tests.
 */
function flowsUntilSlowing({ run, speed, count }: RunSignals): Uint8Array | null {
  if (run.kind !== 'coast-down' || !speed) return null
  const limit = Math.min(NOT_YET_SLOWING * speed.reach, speed.reach - 4 * speed.noise)
  let last = count - 1
  while (last > 0 && !(Math.abs(speed.values[last]!) >= limit)) last--
  return new Uint8Array(count).fill(1, 0, last)
}

/** Smoothed over a few samples, so that noise of the order of the no-load current hides nothing. */
function isSomething(signal: Signal, count: number, share: number): Uint8Array {
  const half = Math.min(8, Math.floor(count / 400))
  const limit = Math.max((NOISES * signal.noise) / Math.sqrt(2 * half + 1), share * signal.reach)
  const flags = new Uint8Array(count)
  let sum = 0
  let inside = 0
  for (let i = -half; i < count; i++) {
    const entering = signal.values[i + half]
    const leaving = signal.values[i - half - 1]
    if (entering !== undefined && !Number.isNaN(entering)) {
      sum += entering
      inside++
    }
    if (leaving !== undefined && !Number.isNaN(leaving)) {
      sum -= leaving
      inside--
    }
    if (i >= 0 && inside > 0 && Math.abs(sum / inside) > limit) flags[i] = 1
  }
  return flags
}

/** A shaft that does not slow down is driven, however small its current; so is a zero crossing of the current. */
function withoutFalseCoast(kinds: Uint8Array, { speed }: RunSignals): Uint8Array {
  for (let start = 0; start < kinds.length; ) {
    let end = start
    while (end < kinds.length && kinds[end] === kinds[start]) end++
    if (kinds[start] === COAST && speed) {
      const early = averageMagnitude(speed, start, start + Math.ceil((end - start) / 4))
      const late = averageMagnitude(speed, end - Math.ceil((end - start) / 4), end)
      const samples = Math.ceil((end - start) / 4)
      const slows = early - late > Math.max(0.003 * early, (4 * speed.noise) / Math.sqrt(samples))
      if (!slows || end - start < 2 * SHORTEST) kinds.fill(DRIVE, start, end)
    }
    start = end
  }
  return kinds
}

function averageMagnitude(signal: Signal, start: number, end: number): number {
  let sum = 0
  for (let i = start; i < end; i++) sum += Math.abs(signal.values[i]!)
  return sum / (end - start)
}
