import type { CombLevel, IdentifiedComb } from './identify-comb.ts'
import type { Measured } from './measure-stretch.ts'
import { isSwitching, MOST_STRONG } from './peaks.ts'
import type { SampleSpan } from './speed-levels.ts'
import type { Switching } from './pwm-waveform.ts'

/** A stretch is at a level where both its halves are expected within this of the level's speed. */
const AT_LEVEL = 0.03
/** There the back-EMF tells the speed to this, by the level's own comb: a rough resistance counts for little. */
const LEVEL_SHARE = 0.0145

/** … or where so much of it was counted to the level when its lines were looked for. */
const LEVEL_COVER = 0.9

/** The level at which a stretch of a piece stands in both its halves; null where it does not. */
export function levelAt(
  expected: Float64Array,
  from: number,
  to: number,
  pieceStart: number,
  levels: readonly CombLevel[],
  rateHz: number,
): CombLevel | null {
  const counted = levels.find(
    ({ spans }) => overlapOf(spans, pieceStart + from, pieceStart + to) > LEVEL_COVER * (to - from),
  )
  if (counted !== undefined) return counted
  const middle = (from + to) >> 1
  const halves = [meanOf(expected, from, middle), meanOf(expected, middle, to)]
  const found = levels.find(({ turnsPerSec }) =>
    halves.every(half => Math.abs((half * rateHz) / turnsPerSec - 1) < AT_LEVEL),
  )
  return found ?? null
}

/** Whether what was followed at a steady level is not the commutation, against what the whole comb of that level told. */
export function isAstray(
  { start, end, turns }: Measured,
  pieceStart: number,
  expected: Float64Array,
  { levels }: IdentifiedComb,
  rateHz: number,
): boolean {
  const [from, to] = [start - pieceStart, end - pieceStart]
  if (levels.some(level => isOffAt(level, start, turns, rateHz))) return true
  const level = levelAt(expected, from, to, pieceStart, levels, rateHz)
  if (level === null) return false
  const followed = turns.at(-1)! / (to - from)
  const isOff = (turnsPerSample: number) => Math.abs(followed / turnsPerSample - 1) > LEVEL_SHARE
  // The comb's own rate counts too: a voltage read in the middle of pulses is no mean voltage.
  return isOff(level.turnsPerSec / rateHz) && isOff(meanOf(expected, from, to))
}

/** A level whose part of the stretch is shorter than this many turns is not asked for it. */
const LEAST_TURNS = 4

/** Whether over what the stretch has of a level, in one go, it turned at quite another rate. */
function isOffAt(
  { spans, turnsPerSec }: CombLevel,
  start: number,
  turns: Float64Array,
  rateHz: number,
): boolean {
  return spans.some(span => {
    const from = Math.max(0, span.start - start)
    const to = Math.min(turns.length, span.end - start) - 1
    const expected = ((to - from) * turnsPerSec) / rateHz
    if (!(expected > LEAST_TURNS)) return false
    return Math.abs((turns[to]! - turns[from]!) / expected - 1) > LEVEL_SHARE
  })
}

/** What was followed may be a line of the switching, where it stands still on one for as long as it was followed. */
export function isOnSwitching(
  { start, end, turns }: Measured,
  switching: Switching | null,
  { ripplesPerTurn }: IdentifiedComb,
): boolean {
  const samples = end - start
  return isTone((turns.at(-1)! * ripplesPerTurn) / samples, samples, switching)
}

/** A line is told this well, in resolutions of the stretch. */
const OWN_RESOLUTION = 0.3

/** Whether a line of so many periods a sample cannot be told from the switching's over so many samples. */
export function isTone(periods: number, samples: number, switching: Switching | null): boolean {
  if (switching === null || samples <= 0) return false
  const { sampleRate } = switching
  // The higher ones are too small to be followed.
  const harmonics = (switching.harmonics ?? [1]).filter(harmonic => harmonic <= MOST_STRONG)
  const strong = { ...switching, harmonics }
  return isSwitching(periods * sampleRate, sampleRate / samples, strong, OWN_RESOLUTION)
}

function overlapOf(spans: readonly SampleSpan[], from: number, to: number): number {
  return spans.reduce(
    (sum, { start, end }) => sum + Math.max(0, Math.min(end, to) - Math.max(start, from)),
    0,
  )
}

function meanOf(values: Float64Array, from: number, to: number): number {
  let sum = 0
  for (let i = from; i < to; i++) sum += values[i]!
  return sum / Math.max(1, to - from)
}
