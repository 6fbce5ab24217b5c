import { type ChannelTraits, PLAIN_TRAITS, type Recording } from '../records/recording.ts'
import type { TestRun } from '../records/test-run.ts'
import { median } from '../statistics/robust.ts'
import type { RunSignals } from './run-signals.ts'

/** A voltage that was read within the pulses of a bridge that switches. */
export interface SwitchedVoltage {
  readonly periodSec: number
  readonly samplesPerPeriod: number
  /** Between the two levels. */
  readonly busVolt: number
  /**
   * Standard uncertainty of a mean over whole periods: where a pulse begins and ends between two samples
   * is not known, and samples in step with the pulses err alike in every period.
   */
  readonly meanUncertaintyVolt: number
}

/** Swings of half the reach between neighbours in more than this share of the samples are the bridge's own. */
const SWINGS = 0.05
/** Of the reach, to either side of its half: pulses have an edge there and no level. */
const BETWEEN = 0.2
/** Pulses that a period is measured over. */
const FEWEST_PULSES = 20
/** Below this the place of the edges between samples is most of what a mean says. */
export const FEWEST_SAMPLES_A_PERIOD = 12
/** A mean of fewer keeps much of each sample's own noise and costs as much as the samples. */
const FEWEST_SAMPLES_A_MEAN = 24
/** Neighbours further apart than this many usual intervals have a gap between them. */
const GAP = 1.5

/**
 * How the voltage of a sampled run switches; null where it does not, and `'unsteady'` where it jumps as a bridge
 * does but at no steady frequency that the samples show. A zero run never does: with the bridge off, nil and the
 * converter's next step are all that a sensor reads.
 */
export function switchedVoltage(signals: RunSignals): SwitchedVoltage | 'unsteady' | null {
  const { run, voltage, timeSec } = signals
  if (!voltage || !timeSec || run.kind === 'zero') return null
  const { values, reach } = voltage
  let swings = 0
  let between = 0
  for (let i = 1; i < values.length; i++) {
    if (!(Math.abs(values[i]! - values[i - 1]!) > reach / 2)) continue
    swings++
    // Only beside the swings: a coast after the pulses passes through every voltage.
    if (isBetween(values[i]! / reach) || isBetween(values[i - 1]! / reach)) between++
  }
  // Noise about nil swings as far, but through all that lies between. Long periods swing seldom.
  if (swings < 2 * FEWEST_PULSES || between > swings / 2) return null
  const rises = riseTimes(values, timeSec, reach)
  const periodSec = periodOf(rises.times)
  const isOften = swings >= SWINGS * values.length
  if (periodSec === null) return isOften ? 'unsteady' : null
  const samplesPerPeriod = periodSec / usualInterval(timeSec)
  const busVolt = rises.isBipolar ? 2 * reach : reach
  const step = busVolt / (samplesPerPeriod * stepsTogether(samplesPerPeriod))
  return { periodSec, samplesPerPeriod, busVolt, meanUncertaintyVolt: step / Math.sqrt(6) }
}

const isBetween = (share: number) => Math.abs(Math.abs(share) - 0.5) < BETWEEN

/** When pulses begin: the voltage, or where both levels are as large its sign, rises through the middle. */
function riseTimes(values: Float64Array, timeSec: Float64Array, reach: number) {
  let above = 0
  let signs = 0
  for (let i = 1; i < values.length; i++) {
    const wasHigh = Math.abs(values[i - 1]!) > reach / 2
    const isHigh = Math.abs(values[i]!) > reach / 2
    if (isHigh !== wasHigh) above++
    if (isHigh && wasHigh && values[i]! > 0 !== values[i - 1]! > 0) signs++
  }
  const isBipolar = signs > above
  const level = (value: number) => (isBipolar ? value : Math.abs(value) - reach / 2)
  const times: number[] = []
  for (let i = 1; i < values.length; i++) {
    if (level(values[i - 1]!) <= 0 && level(values[i]!) > 0) times.push(timeSec[i]!)
  }
  return { times, isBipolar }
}

/** From the longest stretch in which pulses follow each other evenly. */
function periodOf(times: readonly number[]): number | null {
  if (times.length < FEWEST_PULSES) return null
  const rough = median(times.slice(1).map((time, n) => time - times[n]!))
  let best: { pulses: number; sec: number } = { pulses: 0, sec: 0 }
  let start = 0
  for (let n = 1; n <= times.length; n++) {
    const isEven = n < times.length && Math.abs(times[n]! - times[n - 1]! - rough) < rough / 2
    if (isEven) continue
    const pulses = n - 1 - start
    if (pulses > best.pulses) best = { pulses, sec: times[n - 1]! - times[start]! }
    start = n
  }
  return best.pulses >= FEWEST_PULSES ? best.sec / best.pulses : null
}

/** Periods after which samples fall into the same places of the pulses again, as far as that helps. */
function stepsTogether(samplesPerPeriod: number): number {
  for (let periods = 1; periods < 10; periods++) {
    const samples = periods * samplesPerPeriod
    if (Math.abs(samples - Math.round(samples)) < 0.05) return periods
  }
  return 10
}

const usualInterval = (timeSec: Float64Array): number => {
  const steps = Float64Array.from(timeSec.subarray(1, 2000), (time, i) => time - timeSec[i]!)
  return median(steps)
}

/** Whether means over whole periods say what the bridge applied. */
export const hasMeans = ({ samplesPerPeriod }: SwitchedVoltage): boolean =>
  samplesPerPeriod >= FEWEST_SAMPLES_A_PERIOD

/**
 * The run as means of every channel over whole PWM periods, each stamped at its end, beginning anew where the
 * bridge's state changes or samples are missing; what is left of a period there is dropped.
 */
export function meansOverPeriods(run: TestRun, switched: SwitchedVoltage): TestRun {
  const { recording, conditions } = run
  const { periodSec, samplesPerPeriod, busVolt } = switched
  const windowSec = periodSec * Math.ceil(FEWEST_SAMPLES_A_MEAN / samplesPerPeriod)
  const windows = windowsOf(recording, windowSec)
  const samples = windowSec / (periodSec / samplesPerPeriod)
  const names = Object.keys(recording.columns) as (keyof Recording['columns'])[]
  const traits = names.map(name => {
    const own = recording.traits[name]
    return [name, traitsOfMeans(own, samples, windowSec, name === 'voltage' ? switched : null)]
  })
  return {
    ...run,
    conditions: {
      ...conditions,
      switchingHz: conditions.switchingHz ?? 1 / periodSec,
      supplyVolt: conditions.supplyVolt ?? busVolt,
    },
    recording: {
      ...recording,
      sampleCount: windows.length,
      timeSec: Float64Array.from(windows, ({ endSec }) => endSec),
      columns: Object.fromEntries(
        names.map(name => [name, meansOf(recording.columns[name]!, windows)]),
      ),
      bridge:
        recording.bridge && Uint8Array.from(windows, ({ first }) => recording.bridge![first]!),
      traits: { ...recording.traits, ...Object.fromEntries(traits) },
    },
  }
}

/** Samples `first … last`, the outer two with the share of their interval that lies within. */
interface Window {
  readonly first: number
  readonly last: number
  readonly firstShare: number
  readonly lastShare: number
  readonly endSec: number
}

function windowsOf({ timeSec, bridge, sampleCount }: Recording, windowSec: number): Window[] {
  const time = timeSec!
  const interval = usualInterval(time)
  const windows: Window[] = []
  for (let start = 0; start < sampleCount; ) {
    let end = start + 1
    while (
      end < sampleCount &&
      time[end]! - time[end - 1]! < GAP * interval &&
      (bridge === null || bridge[end] === bridge[start])
    ) {
      end++
    }
    // In sample intervals from the beginning of the first one's.
    const length = windowSec / interval
    for (let n = 0; (n + 1) * length <= end - start + 1e-6; n++) {
      const from = n * length
      const to = from + length
      const first = Math.floor(from + 1e-9)
      const last = Math.min(end - start - 1, Math.ceil(to - 1e-9) - 1)
      windows.push({
        first: start + first,
        last: start + last,
        firstShare: first + 1 - from,
        lastShare: to - last,
        endSec: time[start]! + (to - 0.5) * interval,
      })
    }
    start = end
  }
  return windows
}

function meansOf(values: Float64Array, windows: readonly Window[]): Float64Array {
  return Float64Array.from(windows, ({ first, last, firstShare, lastShare }) => {
    let sum = values[first]! * firstShare + values[last]! * lastShare
    for (let i = first + 1; i < last; i++) sum += values[i]!
    return sum / (firstShare + lastShare + (last - first - 1))
  })
}

function traitsOfMeans(
  traits: ChannelTraits | undefined,
  samples: number,
  windowSec: number,
  switched: SwitchedVoltage | null,
): ChannelTraits {
  const own = traits ?? PLAIN_TRAITS
  return {
    ...own,
    // What the samples' places within the pulses add is found from the means themselves.
    noise: own.noise === null || switched ? null : own.noise / Math.sqrt(samples),
    resolution: own.resolution === null ? null : own.resolution / samples,
    apertureSec: own.apertureSec + windowSec,
    zeroUncertainty: Math.hypot(own.zeroUncertainty, switched?.meanUncertaintyVolt ?? 0),
  }
}
