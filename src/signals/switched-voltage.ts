import { median } from '../statistics/robust.ts'
import type { RunSignals } from './run-signals.ts'
import { usualPeriodSec } from './usual-period.ts'

/** A voltage that was read within the pulses of a bridge that switches. */
export interface SwitchedVoltage {
  readonly periodSec: number
  readonly samplesPerPeriod: number
  /** Between the two levels. */
  readonly busVolt: number
  /** Periods after which samples fall into the same places of the pulses again, as far as that is told. */
  readonly periodsTogether: number
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
  const samplesPerPeriod = periodSec / usualPeriodSec(timeSec)
  const busVolt = rises.isBipolar ? 2 * reach : reach
  const periodsTogether = togetherAfter(samplesPerPeriod)
  const meanUncertaintyVolt = busVolt / (samplesPerPeriod * periodsTogether * Math.sqrt(6))
  return { periodSec, samplesPerPeriod, busVolt, periodsTogether, meanUncertaintyVolt }
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

/** At most ten: what more of them would help is little. */
function togetherAfter(samplesPerPeriod: number): number {
  for (let periods = 1; periods < 10; periods++) {
    const samples = periods * samplesPerPeriod
    if (Math.abs(samples - Math.round(samples)) < 0.05) return periods
  }
  return 10
}

/** Whether means over whole periods say what the bridge applied. */
export const hasMeans = ({ samplesPerPeriod }: SwitchedVoltage): boolean =>
  samplesPerPeriod >= FEWEST_SAMPLES_A_PERIOD
