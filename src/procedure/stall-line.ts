import { straightLine } from '../statistics/straight-line.ts'

/**
 * Voltage over current of a rotor at standstill, from short pulses, for planning the next pulse.
 * The brush drop bends the line below its knee, so a steepness seen at small currents promises too
 * little current at larger ones; `settled` says that the line has become straight.
 */
export interface StallPoint {
  readonly volt: number
  readonly amp: number
  /** Standard uncertainty of `amp`. */
  readonly uncertaintyAmp: number
  /** False where the shaft moved: the current is then the peak, before it moved. */
  readonly standing: boolean
}

export interface StallLine {
  /** Steepness over the upper half of the currents seen, and the voltage where it meets zero current. */
  readonly resistanceOhm: number
  readonly brushVolt: number
  readonly topAmp: number
  readonly topVolt: number
  /** The steepness over the upper half agrees with the one over the lower half. */
  readonly settled: boolean
}

const UPPER_HALF = 0.45
const LOWER_HALF = 0.62
const SETTLED_WITHIN = 0.12
/** Currents below this many standard uncertainties say nothing. */
const SIGNIFICANT = 5

/**
 * Null until a current was seen. From one current alone the line goes through the origin. Polarity
 * is ignored.
 */
export function stallLine(points: readonly StallPoint[]): StallLine | null {
  const seen = significantPoints(points)
  const top = seen.at(-1)
  if (!top) return null
  const ends = { topAmp: top.amp, topVolt: top.volt }
  const upper = lineThrough(seen.filter(p => p.amp >= UPPER_HALF * top.amp)) ?? lineThrough(seen)
  if (!upper) {
    return { ...ends, resistanceOhm: top.volt / top.amp, brushVolt: 0, settled: false }
  }
  const lower = lineThrough(seen.filter(p => p.amp <= LOWER_HALF * top.amp))
  return {
    ...ends,
    resistanceOhm: upper.slope,
    brushVolt: Math.max(0, upper.intercept),
    settled: lower !== null && Math.abs(lower.slope / upper.slope - 1) < SETTLED_WITHIN,
  }
}

function significantPoints(points: readonly StallPoint[]): StallPoint[] {
  const seen = points
    .filter(point => Math.abs(point.amp) > SIGNIFICANT * point.uncertaintyAmp)
    .map(point => ({ ...point, volt: Math.abs(point.volt), amp: Math.abs(point.amp) }))
  const standing = seen.filter(point => point.standing)
  return (standing.length >= 2 ? standing : seen).sort((a, b) => a.amp - b.amp)
}

/** Of clearly different currents; null where they are not, or where the voltage falls with the current. */
function lineThrough(points: readonly StallPoint[]): { slope: number; intercept: number } | null {
  const first = points[0]
  const last = points.at(-1)
  if (!first || !last || last.amp < 1.15 * first.amp) return null
  const amps = points.map(point => point.amp)
  const volts = points.map(point => point.volt)
  if (points.length === 2) {
    const slope = (volts[1]! - volts[0]!) / (amps[1]! - amps[0]!)
    return slope > 0 ? { slope, intercept: volts[0]! - slope * amps[0]! } : null
  }
  const line = straightLine(amps, volts)
  return line.ok && line.value.slope > 0 ? line.value : null
}

/** A first voltage for a motor of which nothing is known, as a share of the highest allowed. */
const FIRST_VOLT_SHARE = 0.01
const FIRST_VOLT_LEAST = 0.05
const FIRST_VOLT_MOST = 0.3
/** Motors of less resistance than this are not what this bench is for. */
const LEAST_OHM = 0.04
const RESOLVED_VOLT = 0.02

/** Growth of the voltage before any current was seen, while the line bends, and once it is straight. */
const BLIND_GROWTH = 1.6
const BENT_GROWTH = 1.25
const STRAIGHT_GROWTH = 2.5
/** A straight line through the origin may still lie below the knee of the brush drop. */
const DROPLESS_SHARE = 0.1
const DROPLESS_GROWTH = 1.5
/** While the line bends, this share of the goal, or of the way still to go, is aimed at. */
const BENT_SHARE = 0.5
const BENT_REMAINDER = 0.35
/** Steepness at another shaft angle, or after noise, may be this much less. */
export const LEAST_RESISTANCE_SHARE = 0.85

/** The largest current that a plan may aim at, going by what this line has shown. */
export function plannableAmp(line: StallLine): number {
  return voltGrowth(line) * line.topAmp
}

/**
 * The next voltage on the way to a current, never above `capVolt`, and never expected to pass the
 * current that is aimed at.
 */
export function nextStallVolt(
  points: readonly StallPoint[],
  goalAmp: number,
  capVolt: number,
): number {
  const tried = points.reduce((most, point) => Math.max(most, Math.abs(point.volt)), 0)
  if (tried === 0) {
    const first = Math.min(FIRST_VOLT_MOST, Math.max(FIRST_VOLT_LEAST, FIRST_VOLT_SHARE * capVolt))
    return Math.min(first, capVolt, Math.max(RESOLVED_VOLT, LEAST_OHM * goalAmp))
  }
  const line = stallLine(points)
  if (!line) return Math.min(BLIND_GROWTH * tried, capVolt)
  const least = LEAST_RESISTANCE_SHARE * line.resistanceOhm
  const aimed = line.settled
    ? Math.min(goalAmp, plannableAmp(line))
    : Math.max(BENT_SHARE * goalAmp, line.topAmp + BENT_REMAINDER * (goalAmp - line.topAmp))
  const byCurrent = line.settled
    ? line.brushVolt + least * aimed
    : line.topVolt + least * Math.max(0, aimed - line.topAmp)
  return Math.min(capVolt, byCurrent, voltGrowth(line) * line.topVolt)
}

function voltGrowth(line: StallLine): number {
  if (!line.settled) return BENT_GROWTH
  const dropless = line.brushVolt < DROPLESS_SHARE * line.topVolt
  return dropless ? DROPLESS_GROWTH : STRAIGHT_GROWTH
}

/** Once the shaft rocked without breaking away, the voltage grows from there. */
const ROCKED_GROWTH = 1.25
const ROCKED_MORE_CURRENT = 1.6

/**
 * The next voltage for a free shaft that rocked in its cogging: from the strongest pulse so far,
 * standing or not. Null where it never rocked, or where the current might pass `goalAmp`.
 */
export function nextRockedVolt(points: readonly StallPoint[], goalAmp: number): number | null {
  const rocked = points.filter(point => !point.standing)
  const volt = Math.max(0, ...rocked.map(point => Math.abs(point.volt)))
  const amp = Math.max(0, ...rocked.map(point => Math.abs(point.amp)))
  return volt > 0 && ROCKED_MORE_CURRENT * amp <= goalAmp ? ROCKED_GROWTH * volt : null
}
