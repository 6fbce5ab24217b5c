import type { Quantity } from '../records/quantity.ts'
import { type ChannelTraits, PLAIN_TRAITS, type Recording } from '../records/recording.ts'
import type { TestRun } from '../records/test-run.ts'
import { whiteNoise } from '../statistics/robust.ts'
import { evenPulses, type PulseMeans } from './even-pulses.ts'
import type { SwitchedVoltage } from './switched-voltage.ts'
import { usualPeriodSec } from './usual-period.ts'

/** A mean of fewer keeps much of each sample's own noise and costs as much as the samples. */
const FEWEST_SAMPLES_A_MEAN = 24
/** Neighbours further apart than this many usual intervals have a gap between them. */
const GAP = 1.5

/**
 * The run as means of every channel over whole PWM periods, each stamped at its end, beginning anew where the
 * bridge's state changes or samples are missing; what is left of a period there is dropped.
 */
export function meansOverPeriods(run: TestRun, switched: SwitchedVoltage): TestRun {
  const { recording, conditions } = run
  const { periodSec, samplesPerPeriod, busVolt } = switched
  const periods = Math.ceil(FEWEST_SAMPLES_A_MEAN / samplesPerPeriod)
  const samples = periods * samplesPerPeriod
  const windows = windowsOf(recording, samples)
  const columns: Partial<Record<Quantity, Float64Array>> = {}
  const traits: Partial<Record<Quantity, ChannelTraits>> = { ...recording.traits }
  for (const [name, column] of Object.entries(recording.columns) as [Quantity, Float64Array][]) {
    columns[name] = meansOf(column, windows)
    traits[name] = traitsOfMeans(recording.traits[name], samples, periods * periodSec)
  }
  if (columns.voltage) {
    const pulses = pulsesIn(recording.columns.voltage!, columns.voltage, windows, switched)
    columns.voltage = evenPulses(pulses)
    traits.voltage = readInPulses(traits.voltage!, pulses, switched)
  }
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
      columns,
      bridge:
        recording.bridge && Uint8Array.from(windows, ({ first }) => recording.bridge![first]!),
      traits,
    },
  }
}

function pulsesIn(
  voltage: Float64Array,
  values: Float64Array,
  windows: readonly Window[],
  { samplesPerPeriod, periodsTogether, busVolt }: SwitchedVoltage,
): PulseMeans {
  const periods = Math.ceil(FEWEST_SAMPLES_A_MEAN / samplesPerPeriod)
  return {
    values,
    hasPulses: windows.map(({ first, last }) => hasSwing(voltage, first, last, busVolt)),
    together: periodsTogether / greatestCommonDivisor(periodsTogether, periods),
    stepVolt: busVolt / (periods * samplesPerPeriod),
  }
}

const greatestCommonDivisor = (a: number, b: number): number =>
  b === 0 ? a : greatestCommonDivisor(b, a % b)

function hasSwing(values: Float64Array, first: number, last: number, busVolt: number): boolean {
  for (let i = first + 1; i <= last; i++) {
    if (Math.abs(values[i]! - values[i - 1]!) > busVolt / 2) return true
  }
  return false
}

/**
 * Beside a step of the duty a mean is as wrong as one pulse is, which is what the noise says of all; and samples
 * in step with the pulses err alike in every period.
 */
function readInPulses(
  traits: ChannelTraits,
  { values, hasPulses }: PulseMeans,
  { meanUncertaintyVolt }: SwitchedVoltage,
): ChannelTraits {
  return {
    ...traits,
    noise: whiteNoise(values.map((value, n) => (hasPulses[n] ? value : Number.NaN))),
    zeroUncertainty: Math.hypot(traits.zeroUncertainty, meanUncertaintyVolt),
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

/** @param length of a window in sample intervals */
function windowsOf({ timeSec, bridge, sampleCount }: Recording, length: number): Window[] {
  const time = timeSec!
  const interval = usualPeriodSec(time)
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
): ChannelTraits {
  const own = traits ?? PLAIN_TRAITS
  return {
    ...own,
    noise: own.noise === null ? null : own.noise / Math.sqrt(samples),
    resolution: own.resolution === null ? null : own.resolution / samples,
    apertureSec: own.apertureSec + windowSec,
  }
}
