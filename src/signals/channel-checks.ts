import type { Quantity } from '../records/quantity.ts'
import type { TestKind } from '../records/test-kind.ts'
import type { TestRun } from '../records/test-run.ts'
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

/** No shaft of this class of motors turns faster, rad/s (60 000 1/min); common practice, no source. */
const FASTEST = 6283
/** Share of the samples that may be missing without a word. */
const GAPS = 0.05
/** So many equal readings in a row at the very end of the range, and such a share of all, are no chance. */
const STUCK_RUN = 5
const STUCK_SHARE = 0.002

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

/** Readings at the declared limits, or stuck at the largest of a noisy channel. */
function saturation(name: Quantity, signal: Signal, run: TestRun): ChannelFinding[] {
  const { values, traits, noise } = signal
  const raw = run.recording.columns[name] ?? values
  const { rangeLow, rangeHigh } = traits
  let declared = 0
  let high = Number.NEGATIVE_INFINITY
  let low = Number.POSITIVE_INFINITY
  for (const value of raw) {
    if ((rangeHigh !== null && value >= rangeHigh) || (rangeLow !== null && value <= rangeLow)) declared++
    if (value > high) high = value
    if (value < low) low = value
  }
  const stuck = noise > 0 && run.recording.timeSec ? Math.max(runAt(raw, high), runAt(raw, low)) : 0
  const count = declared > 0 ? declared : stuck
  const isStuck =
    stuck >= STUCK_RUN && stuck >= STUCK_SHARE * raw.length && noise > 4 * rounding(signal)
  if (declared === 0 && !isStuck) return []
  return [
    {
      code: 'saturated-channel',
      text: `${name} is at the end of its range in ${count} samples; choose a larger range or a lower level`,
    },
  ]
}

function rounding({ traits }: Signal): number {
  return (traits.resolution ?? 0) / Math.sqrt(12)
}

/** Longest run of samples equal to a value. */
function runAt(values: Float64Array, limit: number): number {
  let longest = 0
  let length = 0
  for (const value of values) {
    length = value === limit ? length + 1 : 0
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
 * A winding's current cannot jump and its voltage does: where the "current" jumps with each step while the
 * "voltage" creeps after it, or where open terminals read current in step with the speed, the two are swapped.
 */
function swapped(run: TestRun, { current, voltage }: RunSignals): ChannelFinding[] {
  if (!current || !voltage || !run.recording.timeSec || run.recording.bridge) return []
  const jumpsOf = (signal: Signal) => voltageJumps(signal.values).filter(i => i > 2)
  const [inCurrent, inVoltage] = [jumpsOf(current), jumpsOf(voltage)]
  const jumpShare = (signal: Signal, places: readonly number[]) =>
    places.reduce((sum, i) => sum + firstShare(signal, i), 0) / Math.max(1, places.length)
  if (inCurrent.length === 0 || inVoltage.length > 0) return []
  if (jumpShare(current, inCurrent) < 0.8) return []
  return [
    {
      code: 'swapped-channels',
      text: 'the current jumps where the voltage only creeps; current and voltage seem to be swapped',
    },
  ]
}

/** How much of a step is done by its first sample, against where it stands some samples later. */
function firstShare({ values }: Signal, i: number): number {
  const before = values[i - 2]!
  const later = values[Math.min(values.length - 1, i + 8)]!
  return Math.min(1, Math.abs((values[i]! - before) / (later - before || 1)))
}

function tooFast({ speed }: RunSignals): ChannelFinding[] {
  if (!speed || !(speed.reach > FASTEST)) return []
  return [
    {
      code: 'speed-unit',
      text: `the speed reaches ${Math.round(speed.reach)} rad/s, ${Math.round(speed.reach * 9.5493)} turns a minute; was it recorded in 1/min and declared as rad/s?`,
    },
  ]
}
