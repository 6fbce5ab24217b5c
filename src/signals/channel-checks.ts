import type { Quantity } from '../records/quantity.ts'
import type { TestKind } from '../records/test-kind.ts'
import type { TestRun } from '../records/test-run.ts'
import { median } from '../statistics/robust.ts'
import { voltageJumps } from './jumps.ts'
import type { RunSignals, Signal } from './run-signals.ts'

/** Something about a run's channels that makes numbers wrong without making them impossible. */
export interface ChannelFinding {
  readonly code:
    | 'constant-channel'
    | 'saturated-channel'
    | 'missing-samples'
    | 'swapped-channels'
    | 'speed-unit'
  readonly text: string
}

/** Kinds in which a channel has to move for the run to say anything. */
const MUST_MOVE: Readonly<Record<TestKind, readonly Quantity[]>> = {
  zero: [],
  'locked-rotor': ['current'],
  'free-run': ['speed'],
  'run-up': ['current', 'speed'],
  'coast-down': ['speed'],
  'back-driven': ['voltage', 'speed'],
  load: ['current'],
  heating: [],
  mixed: ['current'],
}

/** Brushed motors turn no faster than about this, rad/s (33 000 1/min); common practice, no source. */
const FASTEST = 3500
/** 60/2π */
const PER_MINUTE = 60 / (2 * Math.PI)
/** Share of the samples that may be missing without a word. */
const GAPS = 0.05
/** So many equal readings in a row at the very end of the range, and such a share of all, are no chance. */
const STUCK_RUN = 5
const STUCK_SHARE = 0.002
/** A clipped channel runs into its limit: by more than this share of its reach over three samples. */
const KINK = 1e-4
/** A noisy channel repeats its last reading in less than this share of the samples. */
const NOISY_REPEATS = 0.3

/** Constant, saturated, gappy or swapped channels, and speeds that no shaft has. */
export function checkChannels(run: TestRun, signals: RunSignals): ChannelFinding[] {
  return [
    ...constants(run),
    ...(['voltage', 'current', 'speed', 'torque'] as const).flatMap(name => {
      const signal = signals[name]
      return signal ? [...saturation(name, signal, run), ...gaps(name, signal)] : []
    }),
    ...swapped(run, signals),
    ...tooFast(signals),
  ]
}

function constants(run: TestRun): ChannelFinding[] {
  return MUST_MOVE[run.kind].flatMap((name): ChannelFinding[] => {
    const column = run.recording.columns[name]
    if (!column || column.length < 3 || column.some(value => value !== column[0])) return []
    return [
      {
        code: 'constant-channel',
        text: `${name} reads ${column[0]} in all ${column.length} samples; check that its sensor is connected`,
      },
    ]
  })
}

/** Readings at the declared limits, or stuck at the largest of a channel that is noisy everywhere else. */
function saturation(name: Quantity, signal: Signal, run: TestRun): ChannelFinding[] {
  const raw = run.recording.columns[name] ?? signal.values
  const { rangeLow, rangeHigh } = signal.traits
  let declared = 0
  let high = Number.NEGATIVE_INFINITY
  let low = Number.POSITIVE_INFINITY
  let repeated = 0
  for (let i = 0; i < raw.length; i++) {
    const value = raw[i]!
    if ((rangeHigh !== null && value >= rangeHigh) || (rangeLow !== null && value <= rangeLow)) {
      declared++
    }
    if (value > high) high = value
    if (value < low) low = value
    if (i > 0 && value === raw[i - 1]) repeated++
  }
  const isNoisy = run.recording.timeSec !== null && repeated < NOISY_REPEATS * raw.length
  const kink = KINK * signal.reach
  // A shaft at rest and a current of nil are no limits.
  const ends = [high, low].filter(end => Math.abs(end) > signal.reach / 10)
  const stuck = isNoisy ? Math.max(0, ...ends.map(end => runAt(raw, end, kink))) : 0
  const isStuck = stuck >= STUCK_RUN && stuck >= STUCK_SHARE * raw.length
  if (declared === 0 && !isStuck) return []
  return [
    {
      code: 'saturated-channel',
      text: `${name} is at the end of its range in ${declared || stuck} samples; choose a larger range or a lower level`,
    },
  ]
}

/** Longest run of samples equal to a value that was reached with a kink, not by settling there. */
function runAt(values: Float64Array, limit: number, kink: number): number {
  let longest = 0
  let length = 0
  for (let i = 3; i < values.length; i++) {
    if (values[i] !== limit) length = 0
    else if (length > 0 || Math.abs(limit - values[i - 3]!) > kink) length++
    if (length > longest) longest = length
  }
  return longest
}

function gaps(name: Quantity, { values }: Signal): ChannelFinding[] {
  let missing = 0
  for (const value of values) if (Number.isNaN(value)) missing++
  if (missing <= GAPS * values.length) return []
  const share = Math.round((100 * missing) / values.length)
  return [{ code: 'missing-samples', text: `${share} % of the ${name} samples are missing` }]
}

/**
 * A winding's current cannot jump and its voltage does: where the "current" is there at once after each step while
 * the "voltage" creeps after it, the two are swapped. Samples too slow to show the difference say nothing.
 */
function swapped(run: TestRun, { current, voltage }: RunSignals): ChannelFinding[] {
  if (!current || !voltage || !run.recording.timeSec) return []
  const places = voltageJumps(current.values).filter(i => rises(current.values, i))
  if (places.length === 0) return []
  const atOnce = (signal: Signal) => median(places.map(i => firstShare(signal, i)))
  if (!(atOnce(current) > 0.9 && atOnce(voltage) < 0.7)) return []
  return [
    {
      code: 'swapped-channels',
      text: 'the current jumps where the voltage only creeps; current and voltage seem to be swapped',
    },
  ]
}

/** A bridge that opens takes the current down within one sample too: only a rise is evidence. */
function rises(values: Float64Array, i: number): boolean {
  if (i <= 2 || i + 8 >= values.length) return false
  return Math.abs(values[i + 8]!) > Math.abs(values[i - 3]!)
}

/** How much of a step is done by its first sample, against where it stands some samples later. */
function firstShare({ values }: Signal, i: number): number {
  const before = values[i - 3]!
  return Math.abs((values[i]! - before) / (values[i + 8]! - before || 1))
}

function tooFast({ speed }: RunSignals): ChannelFinding[] {
  if (!speed || !(speed.reach > FASTEST)) return []
  return [
    {
      code: 'speed-unit',
      text: `the speed reaches ${Math.round(speed.reach)} rad/s, ${Math.round(speed.reach * PER_MINUTE)} turns a minute; was it recorded in 1/min and declared as rad/s? Then it would be ${Math.round(speed.reach / PER_MINUTE)} rad/s`,
    },
  ]
}
