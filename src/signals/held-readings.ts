import { median, medianAbsoluteDeviation } from '../statistics/robust.ts'

/** A channel of readings that stand until the next one comes, made into readings at their own moments. */
export interface ReadingsApart {
  /** Straight from one reading to the next where they were moved; while a shaft stops, what it can be at most. */
  readonly values: Float64Array
  /** 0 where a sample is no reading of its own. */
  readonly isReading: Uint8Array
  /** Standard deviation of a reading by what neighbours differ while little happens. */
  readonly noise: number
}

/** Fewer repeats among the samples that move, and the channel is one that reads anew each time. */
const REPEATS = 0.2
const FEWEST_READINGS = 8
/** Where no encoder shows, a jump of more than so many usual ones says that the reading before it stood too long. */
const TOO_LONG = 2
/** Before the first edge of a shaft that begins to turn: so many times as long as to the next one. */
const TO_FIRST_EDGE = 4
/** Shorter holds do not tell how far the shaft turned in them. */
const TELLING_SAMPLES = 5
/** Angles that scatter by no more than this share of themselves are one angle. */
const SAME_ANGLE = 0.25

/**
 * A speed timed between the edges of an encoder, or counted in a gate, is a mean over the time since the reading
 * before, and stands until the next. Where speed hardly changes that does no harm. Where it does, the reading
 * belongs to the middle of its time, and what stood before it is no reading. At rest no edge comes and nil is
 * read, which is true until shortly before the first reading; the last reading before nil stands for too long.
 * @returns null where the channel does not hold its readings
 */
export function readingsApart(column: Float64Array): ReadingsApart | null {
  if (!standsBetweenReadings(column)) return null
  const holds = holdsOf(column)
  const usual = usualJump(holds)
  const turned = turnedBetweenEdges(holds, usual)
  const values = Float64Array.from(column)
  const stops: (Hold & { readonly end: number })[] = []
  const moved: { readonly at: number; readonly value: number }[] = []
  for (let h = 1; h < holds.length; h++) {
    const [before, { start, value }] = [holds[h - 1]!, holds[h]!]
    const stood = start - before.start
    // The reading is the mean over so many samples before it; what stood longer was several alike.
    const edges = turned === null ? 1 : Math.max(1, Math.round((stood * Math.abs(value)) / turned))
    const took = stood / edges
    // One step of a converter is what all its steps are.
    if (turned === null && !(Math.abs(value - before.value) > TOO_LONG * usual)) continue
    if (value === 0) {
      values.fill(Number.NaN, before.start + 1, start)
      stops.push({ ...before, end: start })
    } else if (before.value === 0) {
      const fromRest = Math.min(stood, fromRestTo(holds, h))
      const still = Math.floor(start - TO_FIRST_EDGE * fromRest)
      values.fill(Number.NaN, Math.max(before.start, still) + 1, start + 1)
      moved.push({ at: Math.max(before.start, Math.round(start - fromRest / 2)), value })
    } else if (took >= 2) {
      values.fill(Number.NaN, Math.max(before.start, Math.ceil(start - took)) + 1, start + 1)
      moved.push({ at: Math.round(start - took / 2), value })
    }
  }
  for (const { at, value } of moved) values[at] = value
  const isReading = Uint8Array.from(values, value => (Number.isNaN(value) ? 0 : 1))
  joinReadings(values, isReading)
  for (const { start, end, value } of stops) {
    // Without an edge it has turned no further than that since the last.
    for (let i = start + 1; i < end && turned !== null; i++) {
      values[i] = Math.sign(value) * Math.min(Math.abs(value), turned / (i - start))
    }
  }
  return { values, isReading, noise: usual / Math.sqrt(12) }
}

/** Counted without keeping: most channels read anew each time, and their samples are many. */
function standsBetweenReadings(column: Float64Array): boolean {
  let moving = 0
  let readings = 0
  for (let i = 0; i < column.length; i++) {
    if (column[i] === 0) continue
    moving++
    if (column[i] !== column[i - 1]) readings++
  }
  return readings >= FEWEST_READINGS && readings <= (1 - REPEATS) * moving
}

/** A value that stands from one sample to before the start of the next. */
interface Hold {
  readonly start: number
  readonly value: number
}

function holdsOf(column: Float64Array): Hold[] {
  const holds: Hold[] = []
  for (let i = 0; i < column.length; i++) {
    if (column[i] !== column[i - 1]) holds.push({ start: i, value: column[i]! })
  }
  return holds
}

const jumpTo = (holds: readonly Hold[], h: number): number =>
  Math.abs(holds[h]!.value - holds[h - 1]!.value)

const isBetweenReadings = (holds: readonly Hold[], h: number): boolean =>
  holds[h]!.value !== 0 && holds[h - 1]!.value !== 0 && !Number.isNaN(jumpTo(holds, h))

function usualJump(holds: readonly Hold[]): number {
  const jumps: number[] = []
  for (let h = 1; h < holds.length; h++) {
    if (isBetweenReadings(holds, h)) jumps.push(jumpTo(holds, h))
  }
  return jumps.length === 0 ? 0 : median(jumps)
}

/**
 * How far a shaft turns from edge to edge of its encoder, as speed times samples: the same wherever a reading
 * stood for a while and was no repetition. Null where it is not the same, as of a gate.
 */
function turnedBetweenEdges(holds: readonly Hold[], usual: number): number | null {
  const turned: number[] = []
  for (let h = 1; h < holds.length; h++) {
    const stood = holds[h]!.start - holds[h - 1]!.start
    if (stood < TELLING_SAMPLES || !isBetweenReadings(holds, h)) continue
    if (jumpTo(holds, h) > usual) turned.push(Math.abs(holds[h]!.value) * stood)
  }
  if (turned.length < FEWEST_READINGS) return null
  const middle = median(turned)
  return medianAbsoluteDeviation(turned) < SAME_ANGLE * middle ? middle : null
}

/** Samples that the first reading after rest is the mean over: the shaft turns as far in it as in the next. */
function fromRestTo(holds: readonly Hold[], h: number): number {
  const [{ start, value }, next] = [holds[h]!, holds[h + 1]]
  const took = next ? Math.abs(((next.start - start) * next.value) / value) : 1
  return Number.isNaN(took) ? 1 : Math.max(1, took)
}

function joinReadings(values: Float64Array, isReading: Uint8Array): void {
  let last = -1
  for (let i = 0; i < values.length; i++) {
    if (isReading[i] === 0) continue
    for (let j = last + 1; last >= 0 && j < i; j++) {
      values[j] = values[last]! + ((values[i]! - values[last]!) * (j - last)) / (i - last)
    }
    last = i
  }
  if (last >= 0) values.fill(values[last]!, last + 1)
}
