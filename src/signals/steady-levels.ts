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
  /** False where the phase was too short to settle, or the voltage is ramped. */
  readonly settled: boolean
  readonly voltage: LevelMean | null
  readonly current: LevelMean | null
  readonly speed: LevelMean | null
  readonly torque: LevelMean | null
  readonly temperatureCelsius: number | null
}

/** A first-order course is within 1e-4 of its end after so many times the time it needs for 80 %. */
const SETTLING = 6
const FEWEST_SAMPLES = 6
/** A ramp, or a phase that never settles, is cut into so many stretches that each count as one level. */
const RAMP_PIECES = 24
/** Change of the voltage over the settled stretch, relative to the largest, from which it is a ramp. */
const RAMP = 0.03

/** The steady levels of a run, in the order of the recording; each row of a table is one. */
export function steadyLevels(signals: RunSignals): SteadyLevel[] {
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
  const settled = settledFrom(signals, phase)
  const left = phase.end - settled
  const enough = left >= FEWEST_SAMPLES && left >= 0.04 * (phase.end - phase.start)
  if (enough && !isRamp(signals.voltage, settled, phase.end)) {
    return [levelOf(signals, phase.kind, settled, phase.end, true)]
  }
  if (phase.kind === 'standstill') return []
  const from = isRamp(signals.voltage, phase.start, phase.end) ? phase.start : settled
  return pieces(from, phase.end).map(([start, end]) =>
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

/** First sample from which current and speed only drift: `SETTLING` times the time to 80 % of their change. */
export function settledFrom(signals: RunSignals, phase: Phase): number {
  const spans = [signals.current, signals.speed, signals.voltage].map(signal =>
    signal ? timeTo80(signal, phase) : 0,
  )
  return Math.min(phase.end, phase.start + SETTLING * Math.max(...spans))
}

/** Samples from the start of the phase until the signal stays within 20 % of its whole change; 0 if it only drifts. */
export function timeTo80(signal: Signal, { start, end }: Phase): number {
  const tail = Math.max(start, end - Math.max(3, Math.floor((end - start) / 10)))
  const final = plainMean(signal.values, tail, end)
  const half = Math.min(4, Math.floor((end - start) / 200))
  let peak = 0
  for (let i = start; i < end; i++) peak = Math.max(peak, Math.abs(smooth(signal, i, half, start, end) - final))
  const noise = signal.noise / Math.sqrt(2 * half + 1)
  if (!(peak > Math.max(8 * noise, 0.02 * Math.abs(final), 0.002 * signal.reach))) return 0
  const limit = Math.max(0.2 * peak, 4 * noise)
  for (let i = end - 1; i >= start; i--) {
    if (Math.abs(smooth(signal, i, half, start, end) - final) > limit) return i + 1 - start
  }
  return 0
}

function smooth(signal: Signal, i: number, half: number, start: number, end: number): number {
  return half === 0
    ? signal.values[i]!
    : plainMean(signal.values, Math.max(start, i - half), Math.min(end, i + half + 1))
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
  const values = signal.values.subarray(start, end).filter(value => !Number.isNaN(value))
  if (values.length === 0) return null
  if (!time || values.length < 2) {
    return { value: values[0]!, standardUncertainty: signal.noise, slopePerSec: 0 }
  }
  const { value, slopePerSec, residuals } = lineOver(signal.values, time, start, end)
  const { standardUncertainty } = correlatedMean(residuals)
  const least = signal.noise / Math.sqrt(values.length)
  return { value, standardUncertainty: Math.max(standardUncertainty, least), slopePerSec }
}

/** Mean, slope, and what is left about the straight line through the samples of a stretch; gaps left out. */
function lineOver(values: Float64Array, time: Float64Array, start: number, end: number) {
  const rows: number[] = []
  for (let i = start; i < end; i++) if (!Number.isNaN(values[i]!)) rows.push(i)
  const meanTime = rows.reduce((sum, i) => sum + (time[i]! - time[start]!), 0) / rows.length
  const value = rows.reduce((sum, i) => sum + values[i]!, 0) / rows.length
  let products = 0
  let squares = 0
  for (const i of rows) {
    const t = time[i]! - time[start]! - meanTime
    products += t * (values[i]! - value)
    squares += t * t
  }
  const slopePerSec = squares > 0 ? products / squares : 0
  const residuals = Float64Array.from(
    rows,
    i => values[i]! - value - slopePerSec * (time[i]! - time[start]! - meanTime),
  )
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
