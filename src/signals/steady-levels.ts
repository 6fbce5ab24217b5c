import { correlatedMean } from '../statistics/autocorrelation-time.ts'
import { findPhases, type Phase, type PhaseKind } from './phases.ts'
import type { RunSignals, Signal } from './run-signals.ts'

/** Mean of one channel over a steady stretch. */
export interface LevelMean {
  readonly value: number
  /** From the scatter and its correlation; at least that of the declared noise. */
  readonly standardUncertainty: number
  /** Rate of change over the stretch, per second; 0 for a reading of a table. */
  readonly slopePerSec: number
  /** Root mean square about the straight line through the samples. */
  readonly spread: number
}

/** A stretch in which nothing changes but noise, ripple and slow drift, or one row of a hand-read table. */
export interface SteadyLevel {
  readonly kind: PhaseKind | 'reading'
  readonly start: number
  readonly end: number
  /** Middle of the stretch; null for a reading of a table. */
  readonly middleSec: number | null
  /** 0 for a reading of a table. */
  readonly durationSec: number
  /** False for a piece of a ramp. */
  readonly settled: boolean
  readonly voltage: LevelMean | null
  readonly current: LevelMean | null
  readonly speed: LevelMean | null
  readonly torque: LevelMean | null
  readonly temperatureCelsius: number | null
}

/**
 * A first-order course is within 1e-4 of its end after 6 times the time it needs for 80 %; a phase too short
 * for that is taken from 3.5 times (4e-3), and the slope that is left is for the analysis to allow for.
 */
const SETTLING = [6, 3.5] as const
const FEWEST_SAMPLES = 6
/** A ramp is cut into so many stretches that each count as one level. */
const RAMP_PIECES = 24
/** Change of the voltage over the settled stretch, relative to the largest, from which it is a ramp. */
const RAMP = 0.03

/** The steady levels of a run, in the order of the recording; each row of a table is one. */
export function steadyLevels(signals: RunSignals): readonly SteadyLevel[] {
  let found = FOUND.get(signals)
  if (!found) {
    found = searchLevels(signals)
    FOUND.set(signals, found)
  }
  return found
}

/** Screening and several analyses ask for the levels of the same signals, which never change. */
const FOUND = new WeakMap<RunSignals, readonly SteadyLevel[]>()

function searchLevels(signals: RunSignals): SteadyLevel[] {
  if (!signals.timeSec) {
    return Array.from({ length: signals.count }, (_, i) =>
      levelOf(signals, 'reading', i, i + 1, true),
    )
  }
  return findPhases(signals).phases.flatMap(phase =>
    phase.kind === 'coast' || phase.kind === 'brake' ? [] : levelsOfPhase(signals, phase),
  )
}

function levelsOfPhase(signals: RunSignals, phase: Phase): SteadyLevel[] {
  const isLong = (from: number) =>
    phase.end - from >= Math.max(FEWEST_SAMPLES, 0.08 * (phase.end - phase.start))
  const settled = settledFrom(signals, phase).find(isLong)
  if (settled !== undefined && !isRamp(signals.voltage, settled, phase.end)) {
    return [levelOf(signals, phase.kind, settled, phase.end, true)]
  }
  if (phase.kind === 'standstill' || !isRamp(signals.voltage, phase.start, phase.end)) return []
  return pieces(phase.start, phase.end).map(([start, end]) =>
    levelOf(signals, phase.kind, start, end, false),
  )
}

function pieces(start: number, end: number): [number, number][] {
  const count = Math.min(RAMP_PIECES, Math.floor((end - start) / FEWEST_SAMPLES))
  return Array.from({ length: count }, (_, i) => [
    start + Math.floor(((end - start) * i) / count),
    start + Math.floor(((end - start) * (i + 1)) / count),
  ])
}

/** Samples from which current and speed only drift, the more cautious first. */
function settledFrom(signals: RunSignals, phase: Phase): number[] {
  const spans = [signals.current, signals.speed, signals.voltage].map(signal =>
    signal ? timeTo80(signal, phase) : 0,
  )
  return SETTLING.map(times => phase.start + Math.ceil(times * Math.max(...spans)))
}

/**
 * Samples from the start of the phase until the signal stays within 20 % of its whole change; 0 if it only
 * ripples or drifts as it still does at the end.
 */
export function timeTo80(signal: Signal, { start, end }: Phase): number {
  const length = end - start
  const final = plainMean(signal.values, Math.max(start, end - Math.max(3, length >> 3)), end)
  const half = Math.min(4, Math.floor(length / 200))
  const distances = distancesFrom(final, signal.values, half, start, end)
  let peak = 0
  let ripple = 0
  for (let i = 0; i < length; i++) {
    const distance = distances[i]!
    if (distance > peak) peak = distance
    if (i >= length - (length >> 2) && distance > ripple) ripple = distance
  }
  const noise = signal.noise / Math.sqrt(2 * half + 1)
  if (!(peak > Math.max(8 * noise, 3 * ripple, 0.02 * Math.abs(final), 0.002 * signal.reach)))
    return 0
  const limit = Math.max(0.2 * peak, 4 * noise, 1.2 * ripple)
  let span = length
  while (span > 0 && distances[span - 1]! <= limit) span--
  const drifts = span > DRIFT.span * length && peak < DRIFT.size * Math.abs(final)
  return drifts ? 0 : span
}

/** A change by less than this share of the final value that takes most of the phase is drift, as of a warming winding. */
const DRIFT = { size: 0.25, span: 0.5 }

/** How far the values, smoothed over `half` samples to each side, are from where they end. */
function distancesFrom(
  final: number,
  values: Float64Array,
  half: number,
  start: number,
  end: number,
): Float64Array {
  const distances = new Float64Array(end - start)
  for (let i = start; i < end; i++) {
    const value =
      half === 0
        ? values[i]!
        : plainMean(values, Math.max(start, i - half), Math.min(end, i + half + 1))
    distances[i - start] = Math.abs(value - final)
  }
  return distances
}

function isRamp(voltage: Signal | null, start: number, end: number): boolean {
  if (!voltage || end - start < 2 * FEWEST_SAMPLES) return false
  const share = Math.floor((end - start) / 6)
  const early = plainMean(voltage.values, start, start + share)
  const late = plainMean(voltage.values, end - share, end)
  return Math.abs(late - early) > Math.max(RAMP * voltage.reach, 6 * voltage.noise)
}

function levelOf(
  signals: RunSignals,
  kind: SteadyLevel['kind'],
  start: number,
  end: number,
  settled: boolean,
): SteadyLevel {
  const time = signals.timeSec
  const mean = (signal: Signal | null) => signal && levelMean(signal, time, start, end)
  return {
    kind,
    start,
    end,
    middleSec: time && (time[start]! + time[end - 1]!) / 2,
    durationSec: time ? time[end - 1]! - time[start]! : 0,
    settled,
    voltage: mean(signals.voltage),
    current: mean(signals.current),
    speed: mean(signals.speed),
    torque: mean(signals.torque),
    temperatureCelsius: mean(signals.temperature)?.value ?? null,
  }
}

function levelMean(
  signal: Signal,
  time: Float64Array | null,
  start: number,
  end: number,
): LevelMean | null {
  const { values } = signal
  const first = firstNumber(values, start, end)
  if (first === null) return null
  const count = time ? countOf(values, start, end) : 1
  if (!time || count < 2) {
    return { value: first, standardUncertainty: signal.noise, slopePerSec: 0, spread: 0 }
  }
  const { value, slopePerSec, residuals } = lineOver(values, time, start, end, count)
  const { standardUncertainty } = correlatedMean(residuals)
  const least = signal.noise / Math.sqrt(count)
  let squares = 0
  for (let n = 0; n < count; n++) squares += residuals[n]! * residuals[n]!
  return {
    value,
    standardUncertainty: Math.max(standardUncertainty, least),
    slopePerSec,
    spread: Math.sqrt(squares / count),
  }
}

function firstNumber(values: Float64Array, start: number, end: number): number | null {
  for (let i = start; i < end; i++) if (!Number.isNaN(values[i]!)) return values[i]!
  return null
}

function countOf(values: Float64Array, start: number, end: number): number {
  let count = 0
  for (let i = start; i < end; i++) if (!Number.isNaN(values[i]!)) count++
  return count
}

/** Mean, slope, and what is left about the straight line through the `count` samples of a stretch; gaps left out. */
function lineOver(
  values: Float64Array,
  time: Float64Array,
  start: number,
  end: number,
  count: number,
) {
  const origin = time[start]!
  let times = 0
  let sum = 0
  for (let i = start; i < end; i++) {
    if (Number.isNaN(values[i]!)) continue
    times += time[i]! - origin
    sum += values[i]!
  }
  const meanTime = times / count
  const value = sum / count
  let products = 0
  let squares = 0
  for (let i = start; i < end; i++) {
    if (Number.isNaN(values[i]!)) continue
    const t = time[i]! - origin - meanTime
    products += t * (values[i]! - value)
    squares += t * t
  }
  const slopePerSec = squares > 0 ? products / squares : 0
  const residuals = new Float64Array(count)
  for (let i = start, n = 0; i < end; i++) {
    if (Number.isNaN(values[i]!)) continue
    residuals[n++] = values[i]! - value - slopePerSec * (time[i]! - origin - meanTime)
  }
  return { value, slopePerSec, residuals }
}

export function plainMean(values: Float64Array, start: number, end: number): number {
  let sum = 0
  let count = 0
  for (let i = Math.max(0, start); i < Math.min(values.length, end); i++) {
    if (Number.isNaN(values[i]!)) continue
    sum += values[i]!
    count++
  }
  return sum / count
}
