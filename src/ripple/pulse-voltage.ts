import { quantileOf } from '../statistics/robust.ts'
import type { Switching } from './pwm-waveform.ts'

/** Of the readings, so many may stand between the two levels of the pulses, or on the wrong side of an edge. */
const MOST_ASTRAY = 0.02
/** The middle of the swing, as a part of it, that belongs to no level. */
const BETWEEN = 0.2
/** Readings to either side over which each level is averaged, at least; and pulses. */
const LEAST_HALF = 16
const HALF_PULSES = 8
/** Readings of which one duty is told. */
const LONGEST_CHUNK = 2 ** 16
const SHORTEST_CHUNK = 256
/** Periods over a chunk by which the switching frequency may be off, the likeliest first; edges smear by less than half a step. */
const DETUNINGS = Array.from({ length: 17 }, (_, k) => 0.04 * (k % 2 === 1 ? (k + 1) / 2 : -k / 2))
/** Readings that tell the two levels. */
const PROBES = 2048
/** Parts of a pulse period, at most. */
const MOST_CELLS = 4096

/**
 * Mean voltage of a bridge's pulses, read at single moments: the mean of such readings beats, since the pulses' edges move
 * past the moments slowly. But the phases of all readings tell the duty far better than the share of readings that
 * fell into pulses; and the two levels change slowly. Null where the readings are no pulses of one duty.
 */
export function pulseVoltage(readings: Float64Array, switching: Switching): Float64Array | null {
  const chunks = Math.max(1, Math.ceil(readings.length / LONGEST_CHUNK))
  const mean = new Float64Array(readings.length)
  for (let c = 0; c < chunks; c++) {
    const from = Math.round((c / chunks) * readings.length)
    const to = Math.round(((c + 1) / chunks) * readings.length)
    const found = chunkVoltage(readings.subarray(from, to), switching)
    if (found === null) return null
    mean.set(found, from)
  }
  return mean
}

function chunkVoltage(
  readings: Float64Array,
  { frequency, sampleRate }: Switching,
): Float64Array | null {
  if (readings.length < SHORTEST_CHUNK) return null
  const stride = Math.max(1, Math.floor(readings.length / PROBES))
  const probes = Float64Array.from(
    { length: Math.floor(readings.length / stride) },
    (_, k) => readings[k * stride]!,
  )
  const [low, high] = [quantileOf(probes, 0.05), quantileOf(probes, 0.95)]
  const middle = (low + high) / 2
  const reach = (BETWEEN / 2) * (high - low)
  let between = 0
  for (const volt of readings) if (Math.abs(volt - middle) < reach) between++
  if (between > MOST_ASTRAY * readings.length) return null
  const isOn = new Uint8Array(readings.length)
  for (let i = 0; i < isOn.length; i++) isOn[i] = readings[i]! > middle ? 1 : 0
  const periods = frequency / sampleRate
  // The switching frequency is known to a part of what these readings resolve.
  for (const detuned of DETUNINGS) {
    const duty = dutyOf(isOn, periods + detuned / readings.length)
    if (duty !== null) {
      const half = Math.max(LEAST_HALF, Math.ceil(HALF_PULSES / periods))
      const { on, off } = levelsOf(readings, isOn, half)
      if (isAveraged(readings, isOn, on, off, periods)) return null
      return on.map((volt, i) => duty * volt + (1 - duty) * off[i]!)
    }
  }
  return null
}

/** Readings this far off their level, as a part of the swing, hold part of an edge. */
const OFF_LEVEL = 0.1
/** Of the pulses, so many may have such a reading. */
const MOST_CUT = 0.3

/** Means over a time hold a part of every edge; of them the plain mean is exact. */
function isAveraged(
  readings: Float64Array,
  isOn: Uint8Array,
  on: Float64Array,
  off: Float64Array,
  periods: number,
): boolean {
  let cut = 0
  for (let i = 0; i < readings.length; i++) {
    const level = isOn[i] === 1 ? on[i]! : off[i]!
    if (Math.abs(readings[i]! - level) > OFF_LEVEL * (on[i]! - off[i]!)) cut++
  }
  return cut > MOST_CUT * periods * readings.length
}

/** Readings by phase: how many of both kinds fell into each part of the period. */
interface PhaseCells {
  readonly on: Uint32Array
  readonly off: Uint32Array
}

/** Share of the period between the two edges; null where no two edges part the readings. */
function dutyOf(isOn: Uint8Array, periods: number): number | null {
  const size = Math.min(MOST_CELLS, isOn.length)
  const cells: PhaseCells = { on: new Uint32Array(size), off: new Uint32Array(size) }
  let total = 0
  for (let i = 0; i < isOn.length; i++) {
    const turned = i * periods
    const cell = Math.floor((turned - Math.floor(turned)) * size)
    if (isOn[i] === 1) {
      total++
      cells.on[cell]!++
    } else cells.off[cell]!++
  }
  if (total === 0 || total === isOn.length) return null
  // Of two runs that make up a circle one at most is cut where it begins.
  const on = fullestRun(cells.on, cells.off)
  const off = fullestRun(cells.off, cells.on)
  const astray = { on: total - on.gain, off: isOn.length - total - off.gain }
  if (Math.min(astray.on, astray.off) > MOST_ASTRAY * isOn.length) return null
  const duty =
    astray.on <= astray.off
      ? edgeAt(cells, on.last, 1) - edgeAt(cells, on.first, -1)
      : size - (edgeAt(swapped(cells), off.last, 1) - edgeAt(swapped(cells), off.first, -1))
  return duty / size
}

const swapped = ({ on, off }: PhaseCells): PhaseCells => ({ on: off, off: on })

/** The run of cells with most readings of one kind and fewest of the other. Source: Kadane's maximum subarray. */
function fullestRun(own: Uint32Array, other: Uint32Array) {
  let best = { first: 0, last: 0, gain: Number.NEGATIVE_INFINITY }
  let first = 0
  let gain = 0
  for (let k = 0; k < own.length; k++) {
    if (gain <= 0) {
      first = k
      gain = 0
    }
    gain += own[k]! - other[k]!
    if (gain > best.gain) best = { first, last: k, gain }
  }
  return best
}

/** Where readings of the first kind end beyond a cell of theirs, in cells: inside one that holds both kinds, or half way to the next one that holds any. */
function edgeAt({ on, off }: PhaseCells, cell: number, side: 1 | -1): number {
  const size = on.length
  const at = (place: number) => ((place % size) + size) % size
  const start = side === 1 ? cell : cell + 1
  const inner = off[at(cell)]!
  // Share of a cell that lies on their side of the edge.
  const shareOf = (place: number) => on[at(place)]! / (on[at(place)]! + off[at(place)]!)
  if (inner > 0) return start + side * shareOf(cell)
  let next = cell + side
  while (on[at(next)]! + off[at(next)]! === 0) next += side
  const beyond = side === 1 ? next : next + 1
  if (on[at(next)]! > 0) return beyond + side * shareOf(next)
  return (start + side + beyond) / 2
}

/** Means of both levels around each place, over all where one of them was not read there. */
function levelsOf(readings: Float64Array, isOn: Uint8Array, half: number) {
  const count = readings.length
  const sums = { on: new Float64Array(count + 1), off: new Float64Array(count + 1) }
  const pulses = new Uint32Array(count + 1)
  for (let i = 0; i < count; i++) {
    const volt = readings[i]!
    sums.on[i + 1] = sums.on[i]! + isOn[i]! * volt
    sums.off[i + 1] = sums.off[i]! + (1 - isOn[i]!) * volt
    pulses[i + 1] = pulses[i]! + isOn[i]!
  }
  const inAll = pulses[count]!
  const [on, off] = [new Float64Array(count), new Float64Array(count)]
  for (let i = 0; i < count; i++) {
    const from = Math.max(0, i - half)
    const to = Math.min(count, i + half + 1)
    const inside = pulses[to]! - pulses[from]!
    const outside = to - from - inside
    on[i] = inside > 0 ? (sums.on[to]! - sums.on[from]!) / inside : sums.on[count]! / inAll
    off[i] =
      outside > 0 ? (sums.off[to]! - sums.off[from]!) / outside : sums.off[count]! / (count - inAll)
  }
  return { on, off }
}
