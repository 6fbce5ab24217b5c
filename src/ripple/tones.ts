import { halveRate } from '../numerics/spectrum/halve-rate.ts'
import { cholesky, solveCholesky, triangleAt, triangleSize } from '../numerics/symmetric.ts'
import { alias } from './alias.ts'
import { acrossAt, hannAt, kernel } from './hann-products.ts'
import { FIRST_HARMONICS, SLOW_PERIODS, type Switching } from './pwm-waveform.ts'

/** Tones this near to each other, in resolutions, count as one. */
const SAME_TONE = 0.02
/** Above what the products are exact to. */
const RIDGE = 1e-7
const RIDGE_GROWTH = 10
/** Of a longer stretch, values times tones, the rate is halved first. */
const MOST_WORK = 2e6
/** Halving the rate leaves nothing of what stood above this, in periods a value of the half rate. */
const HALVED_AWAY = 0.6

/** A stretch without its mean and without the tones of the switching. */
export interface Untoned {
  readonly values: Float64Array
  /** Where they were, as far as these values could show them; periods a value. */
  readonly tones: readonly number[]
  /** Samples that make one value. */
  readonly together: number
}

/**
 * Tones may be a million times as strong as a line of the shaft, and means over some samples fold many of them onto its
 * lines: they are taken off first, all together.
 *
 * @param most samples that may make one value
 */
export function untoned(samples: Float64Array, switching: Switching | null, most: number): Untoned {
  let tones: readonly number[] = [0, ...(switching === null ? [] : tonesOf(switching))]
  let values = samples
  let left = most
  let halvings = 0
  while (left > 1 && values.length * tones.length > MOST_WORK) {
    values = halveRate(values)
    left >>= 1
    halvings++
    tones = tones
      .map(tone => 2 * tone)
      .filter(tone => tone < HALVED_AWAY)
      .map(alias)
  }
  const found = apart(tones, SAME_TONE / values.length)
  return {
    values: meansOf(withoutTones(values, found), left),
    tones: found.map(tone => left * tone).filter(tone => tone < 0.5),
    together: left << halvings,
  }
}

/** Harmonics of pulses that may beat with the samples. */
const MOST_BEATING = 60
/** Slower than this, in resolutions of the stretch, a beat cannot be told from the mean. */
const LEAST_BEAT = 2

/**
 * A voltage whose switching was taken off, without what it left: where the bridge switches nearly at a simple ratio to the
 * sample rate, some harmonics fold to slow beats, which count as the course of the mean when the waveform is fitted.
 */
export function withoutBeats(values: Float64Array, switching: Switching): Float64Array {
  const frequency = switching.frequency / switching.sampleRate
  const beats = Array.from({ length: MOST_BEATING }, (_, k) => alias((k + 1) * frequency)).filter(
    beat => beat < frequency / SLOW_PERIODS && beat * values.length > LEAST_BEAT,
  )
  if (beats.length === 0) return values
  // The mean and its steady change are fitted beside the beats, and stay.
  const tones = apart([0, ...beats], SAME_TONE / values.length)
  return withoutTones(values, tones, tone => tone === 0)
}

/** Where the harmonics that matter stand, in periods a sample. */
export const tonesOf = ({ frequency, sampleRate, harmonics }: Switching) =>
  (harmonics ?? FIRST_HARMONICS).map(harmonic => alias((harmonic * frequency) / sampleRate))

function meansOf(values: Float64Array, together: number): Float64Array {
  if (together === 1) return values
  return Float64Array.from({ length: Math.floor(values.length / together) }, (_, k) => {
    let sum = 0
    for (let i = 0; i < together; i++) sum += values[k * together + i]!
    return sum / together
  })
}

function apart(tones: readonly number[], least: number): readonly number[] {
  const kept: number[] = []
  for (const tone of tones.toSorted((a, b) => a - b)) {
    if (kept.length === 0 || tone - kept.at(-1)! > least) kept.push(tone)
  }
  return kept
}

/**
 * Whatever their phases, amplitudes, and steady growth or decay. Weighted by the window, columns cos, sin, τ cos and τ sin of
 * each tone, τ from −1 to 1. Even and odd ones of them have nothing in common: two systems, each of two columns a tone.
 */
function withoutTones(
  values: Float64Array,
  tones: readonly number[],
  kept: (tone: number) => boolean = () => false,
): Float64Array {
  const count = values.length
  const left = values.slice()
  const size = 2 * tones.length
  const sides = [new Float64Array(size), new Float64Array(size)] as const
  const across = left.map((_, k) => acrossAt(k, count))
  const weighted = values.map((value, k) => (hannAt(across[k]!) * value) / count)
  for (const [a, tone] of tones.entries()) {
    const { stepCos, stepSin, cosAtStart, sinAtStart } = turning(tone, count)
    let [cos, sin] = [cosAtStart, sinAtStart]
    let [c, s, tc, ts] = [0, 0, 0, 0]
    for (let k = 0; k < count; k++) {
      const even = weighted[k]! * cos
      const odd = weighted[k]! * sin
      c += even
      s += odd
      tc += across[k]! * even
      ts += across[k]! * odd
      const turned = cos * stepCos - sin * stepSin
      sin = sin * stepCos + cos * stepSin
      cos = turned
    }
    sides[0].set([c, ts], 2 * a)
    sides[1].set([s, tc], 2 * a)
  }
  for (const [f, sign] of ([1, -1] as const).entries()) {
    solveCholesky(factorOf(products(tones, count, sign), size), size, sides[f]!)
  }
  for (const [a, tone] of tones.entries()) {
    if (kept(tone)) continue
    const { stepCos, stepSin, cosAtStart, sinAtStart } = turning(tone, count)
    const [c, ts] = [sides[0][2 * a]!, sides[0][2 * a + 1]!]
    const [s, tc] = [sides[1][2 * a]!, sides[1][2 * a + 1]!]
    let [cos, sin] = [cosAtStart, sinAtStart]
    for (let k = 0; k < count; k++) {
      left[k]! -= (c + across[k]! * tc) * cos + (s + across[k]! * ts) * sin
      const turned = cos * stepCos - sin * stepSin
      sin = sin * stepCos + cos * stepSin
      cos = turned
    }
  }
  return left
}

/** Tones closer than they can be told apart leave less than rounding does: then the ridge grows. */
export function factorOf(gram: Float64Array, size: number): Float64Array {
  for (let ridge = RIDGE; ; ridge *= RIDGE_GROWTH) {
    const ridged = gram.slice()
    for (let j = 0; j < size; j++) ridged[triangleAt(j, j)]! += ridge
    const factor = cholesky(ridged, size)
    if (factor !== null) return factor
  }
}

/** Of cos and τ sin (sign 1), or of sin and τ cos (sign −1). */
function products(tones: readonly number[], count: number, sign: 1 | -1): Float64Array {
  const size = 2 * tones.length
  const gram = new Float64Array(triangleSize(size))
  for (const [a, tone] of tones.entries()) {
    for (let b = 0; b <= a; b++) {
      // The image of a tone at its negative frequency is near where it folds.
      const sum = tone + tones[b]!
      const [u, v] = [(tone - tones[b]!) * count, (sum - Math.round(sum)) * count]
      gram[triangleAt(2 * a, 2 * b)] = (kernel(0, u) + sign * kernel(0, v)) / 2
      gram[triangleAt(2 * a + 1, 2 * b)] = (sign * kernel(1, u) + kernel(1, v)) / 2
      if (b < a) gram[triangleAt(2 * a, 2 * b + 1)] = (kernel(1, v) - sign * kernel(1, u)) / 2
      gram[triangleAt(2 * a + 1, 2 * b + 1)] = (kernel(2, u) - sign * kernel(2, v)) / 2
    }
  }
  return gram
}

/** Of a tone whose phase is nought in the middle of the stretch. */
function turning(tone: number, count: number) {
  const [step, start] = [2 * Math.PI * tone, -2 * Math.PI * tone * (count >> 1)]
  return {
    stepCos: Math.cos(step),
    stepSin: Math.sin(step),
    cosAtStart: Math.cos(start),
    sinAtStart: Math.sin(start),
  }
}
