/// <reference path="../numerics/spectrum/fourier-transform.d.ts" />
import { fft } from 'fourier-transform'
import { windowOf } from '../numerics/spectrum/octave-spectrum.ts'

/** A line of the voltage above this share of its mean is the bridge's switching. */
const SWITCHING_SHARE = 0.03
const LONGEST_TRANSFORM = 16_384
/** Phases of the switching period that are told apart: one for so many samples of a block. */
const SAMPLES_A_PHASE = 12
const MOST_PHASES = 256
const LEAST_BLOCK_SAMPLES = 1024
const BLOCK_SEC = 1
/** The slow course of a signal is its mean over so many periods of the switching. */
const SLOW_PERIODS = 8

/**
 * Frequency of the bridge's switching as the samples show it, below half the sample rate and perhaps folded there:
 * at the sample times a folded line and its harmonics look just like the true ones. Null where the voltage has no such line.
 */
export function findSwitching(voltage: Float64Array, rateHz: number): number | null {
  const size = Math.min(LONGEST_TRANSFORM, 2 ** Math.floor(Math.log2(voltage.length / 2)))
  if (size < 64) return null
  const window = windowOf('blackman-harris', size)
  const lag = Math.min(3 * size, voltage.length - size)
  const first = transformAt(voltage, 0, window)
  const mean = first.mean
  let top = 0
  // The first bins hold slow changes of the mean.
  for (let b = 4; b < size / 2 - 4; b++) {
    if (top === 0 || first.power[b]! > first.power[top]!) top = b
  }
  const meanSquare = first.power[top]! * 2
  if (!(meanSquare > (SWITCHING_SHARE * mean) ** 2)) return null
  const rough = (top + logParabola(first.power, top)) / size
  return rateHz * finer(voltage, window, rough, lag)
}

interface Transform {
  readonly mean: number
  /** |X|² over (Σw)²: a quarter of the squared amplitude at a sinusoid. */
  readonly power: Float64Array
}

function transformAt(values: Float64Array, start: number, window: Float64Array): Transform {
  const size = window.length
  let mean = 0
  for (let i = 0; i < size; i++) mean += values[start + i]! / size
  const [re, im] = fft(window.map((w, i) => w * (values[start + i]! - mean)))
  const scale = window.reduce((sum, w) => sum + w, 0) ** 2
  return { mean, power: Float64Array.from(re, (x, b) => (x * x + im[b]! * im[b]!) / scale) }
}

/** The phase that the line gains over a lag tells its frequency (in periods a sample) better than one transform. */
function finer(values: Float64Array, window: Float64Array, rough: number, lag: number): number {
  const phaseAt = (start: number) => {
    let [re, im] = [0, 0]
    for (let i = 0; i < window.length; i++) {
      const angle = 2 * Math.PI * rough * (start + i)
      re += window[i]! * values[start + i]! * Math.cos(angle)
      im -= window[i]! * values[start + i]! * Math.sin(angle)
    }
    return Math.atan2(im, re)
  }
  const gained = (phaseAt(lag) - phaseAt(0)) / (2 * Math.PI)
  return rough + (gained - Math.round(gained)) / lag
}

function logParabola(power: Float64Array, top: number): number {
  const left = Math.log(power[top - 1]! / power[top]!)
  const right = Math.log(power[top + 1]! / power[top]!)
  return left + right < 0 ? (0.5 * (left - right)) / (left + right) : 0
}

/**
 * A signal without what repeats every switching period. In each block, phase by phase, a straight line over the
 * signal's own running mean is taken off: the switched waveform grows and shrinks with the voltage of the bus, and
 * that sags with the current. So the line, its harmonics and all their aliases go at once, while what is not locked to the switching
 * stays.
 */
export function removeSwitching(
  values: Float64Array,
  switchingHz: number,
  rateHz: number,
): Float64Array {
  const clean = values.slice()
  const slow = runningMean(values, Math.max(4, Math.round((SLOW_PERIODS * rateHz) / switchingHz)))
  const longest = Math.max(LEAST_BLOCK_SAMPLES, Math.round(BLOCK_SEC * rateHz))
  const blocks = Math.max(1, Math.round(values.length / longest))
  for (let k = 0; k < blocks; k++) {
    const start = Math.round((values.length * k) / blocks)
    const end = Math.round((values.length * (k + 1)) / blocks)
    removeFrom(clean, slow, start, end, switchingHz / rateHz)
  }
  return clean
}

/** The waveform is linear between phases, and so is the share of each sample in them. */
function removeFrom(
  values: Float64Array,
  slow: Float64Array,
  start: number,
  end: number,
  periodsPerSample: number,
): void {
  const phases = Math.min(MOST_PHASES, Math.max(8, Math.floor((end - start) / SAMPLES_A_PHASE)))
  const [weights, xs, ys, xxs, xys] = Array.from(
    { length: 5 },
    () => new Float64Array(phases + 1),
  ) as [Float64Array, Float64Array, Float64Array, Float64Array, Float64Array]
  let middle = 0
  for (let i = start; i < end; i++) middle += slow[i]! / (end - start)
  for (let i = start; i < end; i++) {
    const place = phaseOf(i, periodsPerSample) * phases
    const below = Math.floor(place)
    const x = slow[i]! - middle
    // What is left of the slow course itself must not count as switching.
    const y = values[i]! - slow[i]!
    const share = place - below
    add(below, 1 - share, x, y)
    add(below + 1, share, x, y)
  }
  function add(phase: number, weight: number, x: number, y: number): void {
    // The waveform closes on itself.
    const p = phase === phases ? 0 : phase
    weights[p]! += weight
    xs[p]! += weight * x
    ys[p]! += weight * y
    xxs[p]! += weight * x * x
    xys[p]! += weight * x * y
  }
  const level = new Float64Array(phases + 1)
  const slope = new Float64Array(phases + 1)
  let spread = 0
  for (let p = 0; p < phases; p++) spread += xxs[p]! / (end - start)
  for (let p = 0; p < phases; p++) {
    const w = weights[p]!
    if (!(w > 0)) continue
    const variance = xxs[p]! / w - (xs[p]! / w) ** 2
    // A running mean that hardly moves tells no slope.
    const moves = variance > 0.1 * spread && variance > 0
    slope[p] = moves ? (xys[p]! / w - (xs[p]! * ys[p]!) / (w * w)) / variance : 0
    level[p] = ys[p]! / w - slope[p]! * (xs[p]! / w)
  }
  level[phases] = level[0]!
  slope[phases] = slope[0]!
  for (let i = start; i < end; i++) {
    const place = phaseOf(i, periodsPerSample) * phases
    const below = Math.floor(place)
    const share = place - below
    const x = slow[i]! - middle
    const at = level[below]! + slope[below]! * x
    const next = level[below + 1]! + slope[below + 1]! * x
    values[i]! -= at + share * (next - at)
  }
}

function phaseOf(sample: number, periodsPerSample: number): number {
  const periods = sample * periodsPerSample
  return periods - Math.floor(periods)
}

function runningMean(values: Float64Array, width: number): Float64Array {
  const sums = new Float64Array(values.length + 1)
  for (let i = 0; i < values.length; i++) sums[i + 1] = sums[i]! + values[i]!
  const half = width >> 1
  return values.map((_, i) => {
    const from = Math.max(0, i - half)
    const to = Math.min(values.length, i + half + 1)
    return (sums[to]! - sums[from]!) / (to - from)
  })
}
