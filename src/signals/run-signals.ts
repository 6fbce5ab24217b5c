import type { Quantity } from '../records/quantity.ts'
import { type ChannelTraits, PLAIN_TRAITS } from '../records/recording.ts'
import type { TestRun } from '../records/test-run.ts'
import { quantileOf, whiteNoise } from '../statistics/robust.ts'
import { readingsApart } from './held-readings.ts'
import { readingStep } from './reading-step.ts'
import { RunMemory } from './run-memory.ts'
import { shaftSpeed } from './shaft-speed.ts'

/** One channel of a run ready for analysis: zero taken off, noise and scale known. */
export interface Signal {
  readonly values: Float64Array
  /**
   * Standard deviation of one sample: declared, else found from the samples; at least the rounding's.
   * Rows of a table are no series: there what was declared counts, else to what they were rounded.
   */
  readonly noise: number
  /** 99.5 % quantile of the magnitude. */
  readonly reach: number
  readonly traits: ChannelTraits
  /** 0 where a sample stands between two readings and is none of its own; null where each is one. */
  readonly isReading: Uint8Array | null
}

/** The channels that analyses use, by the names of the motor equations. */
export interface RunSignals {
  readonly run: TestRun
  readonly count: number
  /** Null for a hand-read table: each row is a steady reading. */
  readonly timeSec: Float64Array | null
  readonly voltage: Signal | null
  readonly current: Signal | null
  readonly speed: Signal | null
  readonly torque: Signal | null
  readonly temperature: Signal | null
}

/** Readings of channels with nothing going on, to be taken off: from a run of kind `zero`. */
export type ZeroOffsets = Readonly<Partial<Record<Quantity, number>>>

export function readSignals(run: TestRun, zeros: ZeroOffsets = {}): RunSignals {
  return READ.recall(run, zeros, () => signalsOf(run, zeros))
}

const READ = new RunMemory<RunSignals>()

function signalsOf(run: TestRun, zeros: ZeroOffsets): RunSignals {
  const { recording } = run
  const sampled = recording.timeSec !== null
  const channel = (name: Quantity) =>
    toSignal(sampled, recording.columns[name], recording.traits[name], zeros[name])
  return {
    run,
    count: recording.sampleCount,
    timeSec: recording.timeSec,
    voltage: channel('voltage'),
    current: channel('current'),
    speed: recording.columns.speed
      ? withReadingsApart(channel('speed'))
      : toSignal(sampled, shaftSpeed(recording) ?? undefined),
    torque: channel('torque'),
    temperature: channel('temperature'),
  }
}

function toSignal(
  sampled: boolean,
  column: Float64Array | undefined,
  traits: ChannelTraits = PLAIN_TRAITS,
  offset = 0,
): Signal | null {
  if (!column || column.every(Number.isNaN)) return null
  const values = offset === 0 ? column : lowered(column, offset)
  const isTold = sampled || traits.noise !== null || traits.resolution !== null
  const resolution = isTold ? (traits.resolution ?? 0) : readingStep(column)
  const rounding = resolution / Math.sqrt(12)
  const found = sampled ? whiteNoise(column) : 0
  return {
    values,
    noise: Math.max(traits.noise ?? found, rounding),
    reach: reachOf(values),
    traits,
    isReading: null,
  }
}

/** Where it is not declared how the speed is read, the samples may show that it stands between readings. */
function withReadingsApart(speed: Signal | null): Signal | null {
  if (speed === null) return null
  const { apertureSec, delaySec, resolution } = speed.traits
  if (apertureSec > 0 || delaySec > 0 || resolution !== null) return speed
  const apart = readingsApart(speed.values)
  if (apart === null) return speed
  const { values, isReading } = apart
  return { ...speed, values, isReading, noise: Math.max(speed.noise, apart.noise) }
}

function lowered(column: Float64Array, offset: number): Float64Array {
  const values = new Float64Array(column.length)
  for (let i = 0; i < values.length; i++) values[i] = column[i]! - offset
  return values
}

const PROBES = 6_001

/** Largest magnitude but for a few spikes. */
function reachOf(values: Float64Array): number {
  const stride = Math.max(1, Math.ceil(values.length / PROBES))
  const probe: number[] = []
  for (let i = 0; i < values.length; i += stride) {
    if (!Number.isNaN(values[i]!)) probe.push(Math.abs(values[i]!))
  }
  return probe.length < 200 ? Math.max(0, ...probe) : quantileOf(probe, 0.995)
}
