import { cholesky, solveCholesky, triangleAt, triangleSize } from '../numerics/symmetric.ts'
import { median } from '../statistics/robust.ts'
import { noiseFloor } from './noise-floor.ts'
import { runningMean } from './running-mean.ts'
import { weightedMean } from './weighted-mean.ts'

/** What repeats every switching period, as a record shows it. */
export interface Switching {
  /** Of the first harmonic as the samples show it, perhaps folded: its multiples fold to where the true ones do. */
  readonly frequency: number
  readonly sampleRate: number
  /** Those that rise out of the noise of the channel that ripples; null: all. */
  readonly harmonics: readonly number[] | null
}

/** A harmonic of the switching as the ripple's channel holds it. */
export interface Carrier {
  readonly harmonic: number
  /** Not folded. */
  readonly frequency: number
  /** ln of its mean square. */
  readonly height: number
}

/** The first harmonics that matter, as high as a signal holds them. */
export function carriersOf(values: Float64Array, switching: Switching): readonly Carrier[] {
  const used = (switching.harmonics ?? FIRST_HARMONICS).filter(
    harmonic => harmonic <= MOST_CARRIERS,
  )
  const amplitudes = amplitudesOf(values, switching, Math.max(...used, 0))
  return used
    .filter(harmonic => amplitudes[harmonic]! > 0)
    .map(harmonic => ({
      harmonic,
      frequency: harmonic * switching.frequency,
      height: Math.log(amplitudes[harmonic]! ** 2 / 2),
    }))
}

/** Beyond these, what they carry is small. */
const MOST_CARRIERS = 16
/** Those that count where it is not known which of them matter. */
export const FIRST_HARMONICS = [1, 2, 3, 4, 5, 6, 7, 8]

/** Phases of the switching period that are told apart: one for so many samples of a block. */
const SAMPLES_A_PHASE = 12
const MOST_PHASES = 256
const LEAST_PHASES = 8
const LEAST_BLOCK_SAMPLES = 1024
const BLOCK_SEC = 1
/** The slow course of a signal is its mean over so many periods of the switching. */
export const SLOW_PERIODS = 8
/** Of the phases, so many are needed for a harmonic. */
const PHASES_A_HARMONIC = 3

/**
 * The harmonics that matter: where the voltage is known, those that it drives through the winding (which lets them pass
 * in inverse proportion to their frequency) above the noise; else those that stand out themselves. A line of the
 * shaft that happens to stand at one of the many others is left alone.
 */
export function telling(
  ripple: Float64Array,
  voltage: Float64Array | null,
  frequency: number,
  sampleRate: number,
): Switching {
  const all: Switching = { frequency, sampleRate, harmonics: null }
  const phases = phasesOf(ripple.length)
  const most = Math.floor(phases / PHASES_A_HARMONIC)
  const harmonics = Array.from({ length: most }, (_, k) => k + 1)
  const floorOf = (values: Float64Array) =>
    (2 * noiseFloor(removeSwitching(values, all))) / Math.sqrt(values.length)
  const own = amplitudesOf(ripple, all, most)
  const ownFloor = floorOf(ripple)
  if (voltage === null) {
    return {
      ...all,
      harmonics: harmonics.filter(m => m <= ALWAYS || own[m]! > OUTSTANDING * ownFloor),
    }
  }
  const driving = amplitudesOf(voltage, all, most)
  const least = Math.max(
    OUTSTANDING * floorOf(voltage),
    LEAST_DRIVING * Math.max(...harmonics.map(m => driving[m]!)),
  )
  const drives = harmonics.filter(m => driving[m]! > least)
  const leading = drives.toSorted((a, b) => driving[b]! - driving[a]!).slice(0, LEADING)
  const admittance = median(leading.map(m => (m * own[m]!) / driving[m]!))
  const matters = (m: number) =>
    driving[m]! > least && (SAFETY * admittance * driving[m]!) / m > MATTERS * ownFloor
  return { ...all, harmonics: harmonics.filter(m => m <= ALWAYS || matters(m)) }
}

/** The first ones are taken off whether they matter or not. */
const ALWAYS = 2
const OUTSTANDING = 4
/** Smaller ones, in parts of the largest, are what the sharing of samples between phases makes of it. */
const LEAST_DRIVING = 0.003
const LEADING = 5
const SAFETY = 2
/** Amplitude over that of the noise: a line of less than some ten times its power is not seen among it. */
const MATTERS = 4

/**
 * A signal without what repeats every switching period. In each block the waveform is fitted over the phases, with a
 * part in proportion to the signal's own running mean: the switched waveform grows and shrinks with the voltage of the
 * bus, and that sags with the current. So the line, its harmonics and all their aliases go at once, while what is not
 * locked to the switching stays.
 */
export function removeSwitching(values: Float64Array, switching: Switching): Float64Array {
  const { frequency, sampleRate } = switching
  const clean = values.slice()
  const slow = slowCourse(values, switching)
  const longest = Math.max(LEAST_BLOCK_SAMPLES, Math.round(BLOCK_SEC * sampleRate))
  const blocks = Math.max(1, Math.round(values.length / longest))
  for (let k = 0; k < blocks; k++) {
    const start = Math.round((values.length * k) / blocks)
    const end = Math.round((values.length * (k + 1)) / blocks)
    const waveform = waveformOf(clean, slow, start, end, frequency / sampleRate)
    const { level, slope } = restricted(waveform, switching.harmonics)
    const last = level.length - 1
    for (let i = start; i < end; i++) {
      const place = phaseOf(i, frequency / sampleRate) * last
      const below = Math.floor(place)
      const share = place - below
      const x = slow[i]! - waveform.middle
      const at = level[below]! + slope[below]! * x
      const next = level[below + 1]! + slope[below + 1]! * x
      clean[i]! -= at + share * (next - at)
    }
  }
  return clean
}

const phasesOf = (samples: number) =>
  Math.min(MOST_PHASES, Math.max(LEAST_PHASES, Math.floor(samples / SAMPLES_A_PHASE)))

const slowCourse = (values: Float64Array, { frequency, sampleRate }: Switching) =>
  runningMean(values, Math.max(2, Math.round((SLOW_PERIODS * sampleRate) / frequency / 2)))

interface Waveform {
  readonly weights: Float64Array
  /** Mean of the signal over its slow course, phase by phase, and how it grows with the slow course. */
  readonly level: Float64Array
  readonly slope: Float64Array
  /** Mean of the slow course. */
  readonly middle: number
}

/** Each sample counts for the two phases that it stands between. */
function waveformOf(
  values: Float64Array,
  slow: Float64Array,
  start: number,
  end: number,
  periodsPerSample: number,
): Waveform {
  const phases = phasesOf(end - start)
  const [weights, xs, ys, xxs, xys] = Array.from({ length: 5 }, () => new Float64Array(phases)) as [
    Float64Array,
    Float64Array,
    Float64Array,
    Float64Array,
    Float64Array,
  ]
  let middle = 0
  for (let i = start; i < end; i++) middle += slow[i]! / (end - start)
  const add = (phase: number, weight: number, x: number, y: number): void => {
    // The waveform closes on itself.
    const p = phase === phases ? 0 : phase
    weights[p]! += weight
    xs[p]! += weight * x
    ys[p]! += weight * y
    xxs[p]! += weight * x * x
    xys[p]! += weight * x * y
  }
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
  const level = new Float64Array(phases)
  const slope = new Float64Array(phases)
  let spread = 0
  for (let p = 0; p < phases; p++) spread += xxs[p]! / (end - start)
  for (let p = 0; p < phases; p++) {
    const w = weights[p]!
    if (!(w > 0)) continue
    const variance = xxs[p]! / w - (xs[p]! / w) ** 2
    // A running mean that hardly moves tells no slope.
    const moves = variance > 0.1 * spread && variance > 0
    slope[p] = moves ? (xys[p]! / w - (xs[p]! * ys[p]!) / (w * w)) / variance : 0
  }
  // A slope that all phases share is no part of the switching: it would take off whatever the running mean has of the
  // commutation, as many times over as that damps it.
  const shared = weightedMean(slope, weights)
  for (let p = 0; p < phases; p++) {
    const w = weights[p]!
    if (!(w > 0)) continue
    slope[p]! -= shared
    level[p] = ys[p]! / w - slope[p]! * (xs[p]! / w)
  }
  return { weights, level, slope, middle }
}

const FINE_PHASES = 1024

/** A waveform that holds the given harmonics alone, by weighted least squares; one phase more than there are, the first. */
function restricted(
  { weights, level, slope }: Waveform,
  harmonics: readonly number[] | null,
): { level: Float64Array; slope: Float64Array } {
  const alone = () => ({ level: alternating(level, weights), slope: closed(slope) })
  if (harmonics === null) return alone()
  const phases = weights.length
  const used = harmonics.filter(m => PHASES_A_HARMONIC * m <= phases)
  const size = 2 * used.length + 1
  const rows = Array.from(weights, (_, p) => basisAt(p / phases, used))
  const normal = new Float64Array(triangleSize(size))
  const right = [new Float64Array(size), new Float64Array(size)]
  for (let p = 0; p < phases; p++) {
    const w = weights[p]!
    if (!(w > 0)) continue
    const row = rows[p]!
    for (let a = 0; a < size; a++) {
      const wa = w * row[a]!
      right[0]![a]! += wa * level[p]!
      right[1]![a]! += wa * slope[p]!
      for (let b = 0; b <= a; b++) normal[triangleAt(a, 0) + b]! += wa * row[b]!
    }
  }
  const factor = cholesky(normal, size)
  // Too few phases were met to tell the harmonics apart: then each stands for itself.
  if (factor === null) return alone()
  for (const side of right) solveCholesky(factor, size, side)
  // Sharing each sample between two phases blunts the waveform; a constant is no part of the switching.
  const sharper = Float64Array.from({ length: size }, (_, a) =>
    a === 0 ? 0 : 1 / sinc(used[(a - 1) >> 1]! / phases) ** 2,
  )
  const fine = Array.from({ length: FINE_PHASES + 1 }, (_, q) => basisAt(q / FINE_PHASES, used))
  const evaluated = (coefficients: Float64Array) =>
    Float64Array.from(fine, row => {
      let sum = 0
      for (let a = 0; a < size; a++) sum += row[a]! * coefficients[a]! * sharper[a]!
      return sum
    })
  return { level: evaluated(right[0]!), slope: evaluated(right[1]!) }
}

const closed = (waveform: Float64Array) => Float64Array.from([...waveform, waveform[0]!])

function alternating(waveform: Float64Array, weights: Float64Array): Float64Array {
  const mean = weightedMean(waveform, weights)
  return closed(waveform.map(value => value - mean))
}

function basisAt(phase: number, harmonics: readonly number[]): Float64Array {
  const row = new Float64Array(2 * harmonics.length + 1)
  row[0] = 1
  for (const [k, m] of harmonics.entries()) {
    row[2 * k + 1] = Math.cos(2 * Math.PI * m * phase)
    row[2 * k + 2] = Math.sin(2 * Math.PI * m * phase)
  }
  return row
}

/** Amplitudes of the harmonics up to the most; index 0 is not used. */
function amplitudesOf(values: Float64Array, switching: Switching, most: number): Float64Array {
  const { frequency, sampleRate } = switching
  const slow = slowCourse(values, switching)
  const { weights, level } = waveformOf(values, slow, 0, values.length, frequency / sampleRate)
  const phases = weights.length
  return Float64Array.from({ length: most + 1 }, (_, m) => {
    let [re, im] = [0, 0]
    for (let p = 0; p < phases; p++) {
      re += level[p]! * Math.cos((2 * Math.PI * m * p) / phases)
      im += level[p]! * Math.sin((2 * Math.PI * m * p) / phases)
    }
    return (2 * Math.hypot(re, im)) / phases / sinc(m / phases) ** 2
  })
}

function sinc(x: number): number {
  return x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x)
}

function phaseOf(sample: number, periodsPerSample: number): number {
  const periods = sample * periodsPerSample
  return periods - Math.floor(periods)
}
