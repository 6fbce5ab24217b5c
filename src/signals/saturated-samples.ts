import type { Quantity } from '../records/quantity.ts'
import type { TestRun } from '../records/test-run.ts'
import type { ChannelFinding } from './channel-finding.ts'
import { findPhases } from './phases.ts'
import type { RunSignals, Signal } from './run-signals.ts'

/** So many equal readings in a row at the very end of the range, and such a share of all, are no chance. */
const STUCK_RUN = 5
const STUCK_SHARE = 0.002
/** A clipped channel runs into its limit: by more than this share of its reach over three samples. */
const KINK = 1e-4
/** A noisy channel repeats its last reading in less than this share of the samples. */
const NOISY_REPEATS = 0.3

/** Share of the driven samples that may be saturated before the rest says nothing any more. */
const MOST_SATURATED = 0.1
/** Channels that can end at their range or miss samples. */
export const MEASURED = ['voltage', 'current', 'speed', 'torque'] as const

/** Readings at the declared limits, or stuck at the largest of a channel that is noisy everywhere else. */
export function saturation(
  name: Quantity,
  found: SaturatedSamples | undefined,
  signals: RunSignals,
): ChannelFinding[] {
  if (!found) return []
  let inDrive = 0
  let driven = 0
  for (const phase of findPhases(signals).phases) {
    if (phase.kind !== 'drive') continue
    driven += phase.end - phase.start
    for (let i = phase.start; i < phase.end; i++) inDrive += found.flags[i]!
  }
  return [
    {
      code: 'saturated-channel',
      text: `${name} is at the end of its range in ${found.count} samples; choose a larger range or a lower level`,
      spoils: inDrive > MOST_SATURATED * driven,
    },
  ]
}

export interface SaturatedSamples {
  /** 1 where the reading is no measurement but the end of the range. */
  readonly flags: Uint8Array
  readonly count: number
}

/** The channels of a run of which some samples are at the end of their range. */
export function saturatedChannels(
  run: TestRun,
  signals: RunSignals,
): ReadonlyMap<Quantity, SaturatedSamples> {
  return new Map(
    MEASURED.flatMap(name => {
      const signal = signals[name]
      const found = signal && saturatedSamples(name, signal, run)
      return found ? [[name, found] as const] : []
    }),
  )
}

/** Which samples of a channel are at the end of its range; null where there are none. */
export function saturatedSamples(
  name: Quantity,
  signal: Signal,
  run: TestRun,
): SaturatedSamples | null {
  const raw = run.recording.columns[name] ?? signal.values
  const rangeLow = signal.traits.rangeLow ?? Number.NEGATIVE_INFINITY
  const rangeHigh = signal.traits.rangeHigh ?? Number.POSITIVE_INFINITY
  const flags = new Uint8Array(raw.length)
  let declared = 0
  let high = Number.NEGATIVE_INFINITY
  let low = Number.POSITIVE_INFINITY
  for (let i = 0; i < raw.length; i++) {
    const value = raw[i]!
    if (value >= rangeHigh || value <= rangeLow) {
      declared++
      flags[i] = 1
    }
    if (value > high) high = value
    if (value < low) low = value
  }
  const sampled = run.recording.timeSec !== null
  const kink = KINK * signal.reach
  // A shaft at rest and a current of nil are no limits.
  const ends = [high, low].filter(end => Math.abs(end) > signal.reach / 10)
  let stuck = 0
  for (const end of sampled ? ends : []) {
    const length = runAt(raw, end, kink)
    if (length < STUCK_RUN || length < STUCK_SHARE * raw.length) continue
    // A set voltage without noise stays at its highest by rights, and at every other level too.
    const counted = name === 'voltage' ? underCurrent(run) : null
    if (!seldomRepeats(raw, [high, low], counted)) break
    stuck = Math.max(stuck, length)
    // A range that ends on one side does so on the other, however seldom that is reached.
    const limit = Math.abs(end) * (1 - 1e-9)
    for (let i = 0; i < raw.length; i++) if (Math.abs(raw[i]!) >= limit) flags[i] = 1
  }
  return declared === 0 && stuck === 0 ? null : { flags, count: declared || stuck }
}

/** Whether current flows, by which a voltage that is set is told from one that is only read; null without a current. */
function underCurrent({ recording: { columns } }: TestRun): ((i: number) => boolean) | null {
  const { current } = columns
  if (!current) return () => false
  let peak = 0
  for (const amp of current) if (Math.abs(amp) > peak) peak = Math.abs(amp)
  return i => Math.abs(current[i]!) > FLOWS * peak
}

/** Share of the largest current from which one flows. */
const FLOWS = 0.02
/** Fewest samples by which a channel is known to be noisy. */
const FEWEST_COUNTED = 50

/** Whether a channel is noisy, but for the samples at its limits. */
function seldomRepeats(
  values: Float64Array,
  limits: readonly number[],
  counts: ((i: number) => boolean) | null,
): boolean {
  let repeated = 0
  let counted = 0
  for (let i = 1; i < values.length; i++) {
    if (limits.includes(values[i]!) || counts?.(i) === false) continue
    counted++
    if (values[i] === values[i - 1]) repeated++
  }
  if (counts !== null && counted < FEWEST_COUNTED) return false
  return repeated < NOISY_REPEATS * counted
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
