/// <reference path="../numerics/spectrum/fourier-transform.d.ts" />
import { fft } from 'fourier-transform'
import { windowOf } from '../numerics/spectrum/octave-spectrum.ts'
import { median } from '../statistics/robust.ts'
import { alias } from './alias.ts'

/** A line of the voltage above this share of its mean is the bridge's switching. */
const SWITCHING_SHARE = 0.03
const LONGEST_TRANSFORM = 16_384

/** Where averaging over a sample has taken most of it, a line this tall is still the bridge's … */
const LEAST_SHARE = 0.001
/** … if the current follows the voltage through the winding, not the voltage the current through the supply. */
const MOST_ADMITTANCE = 2
/** Below this a small line may be the supply's hum. */
const ABOVE_HUM_HZ = 200
/** A line that stands so far above the middle of all. */
const OUTSTANDING = 300

/**
 * Frequency of the bridge's switching as the samples show it, below half the sample rate and perhaps folded there:
 * at the sample times a folded line and its harmonics look just like the true ones. Null where the voltage has no such line.
 *
 * @param resistanceOhm of the winding, roughly; with it smaller lines tell, too
 */
export function findSwitching(
  voltage: Float64Array,
  current: Float64Array | null,
  rateHz: number,
  resistanceOhm: number | null,
): number | null {
  const size = transformSize(voltage)
  if (size < 64) return null
  const window = windowOf('blackman-harris', size)
  const lag = Math.min(3 * size, voltage.length - size)
  const { mean, power } = transformAt(voltage, 0, window)
  const top = tallest(power, 0, size)
  const rough = () => (top + logParabola(power, top)) / size
  const told = () => {
    const found = finer(voltage, window, rough(), lag)
    return firstOf(voltage, isBlurred(found, size) ? byFolding(voltage, found, size) : found)
  }
  const share = Math.sqrt(2 * power[top]!) / Math.abs(mean)
  if (share > SWITCHING_SHARE && standsAlone(power, top)) {
    return rateHz * told()
  }
  if (current === null || resistanceOhm === null || rough() * rateHz < ABOVE_HUM_HZ) return null
  if (!(share > LEAST_SHARE && power[top]! > OUTSTANDING * median(power))) return null
  const driven = transformAt(current, 0, window).power[top]!
  if (driven * resistanceOhm ** 2 > MOST_ADMITTANCE ** 2 * power[top]!) return null
  return rateHz * told()
}

/** A bridge keeps to its nominal rate within this share. */
const NOMINAL_SHARE = 0.02

/**
 * Where no voltage shows it: the nominal frequency put right by the tallest line of the current near by, folded as in
 * `findSwitching`; as it is where none stands out.
 */
export function switchingNear(current: Float64Array, nominalHz: number, rateHz: number): number {
  const size = transformSize(current)
  if (size < 64) return nominalHz
  const window = windowOf('blackman-harris', size)
  const { power } = transformAt(current, 0, window)
  const centre = size * alias(nominalHz / rateHz)
  const reach = (NOMINAL_SHARE * size * nominalHz) / rateHz
  const top = tallest(power, Math.ceil(centre - reach), centre + reach)
  if (top === 0 || !standsAlone(power, top)) return nominalHz
  return rateHz * byMedian(current, (top + logParabola(power, top)) / size)
}

/** Windows over the whole, and at which of them the phase is compared: near ones first, for no turn to be lost. */
const PHASE_WINDOWS = 16
const PHASE_LAGS = [1, 4] as const

/** The phase of a line gains alike from window to window, but for a jump where the voltage was set anew: the middle gain counts. */
function byMedian(values: Float64Array, rough: number): number {
  const hop = Math.floor(values.length / PHASE_WINDOWS)
  const window = windowOf('blackman-harris', hop)
  let periodsPerSample = rough
  for (const lag of PHASE_LAGS) {
    const phases = Array.from({ length: PHASE_WINDOWS }, (_, w) =>
      phaseAt(values, window, periodsPerSample, w * hop),
    )
    const gains = phases.slice(lag).map((phase, w) => {
      const gained = (phase - phases[w]!) / (2 * Math.PI)
      return gained - Math.round(gained)
    })
    periodsPerSample += median(gains) / (lag * hop)
  }
  return periodsPerSample
}

/** Harmonics up to this one may fold onto the first … */
const MOST_NEAR = 40
/** … within the main lobe of the window, bins. */
const LOBE_BINS = 4

/** Close to in step with the samples, at a simple ratio to their rate, harmonics fold so near to the first that one line holds several. */
function isBlurred(periodsPerSample: number, size: number): boolean {
  const harmonics = Array.from({ length: MOST_NEAR - 1 }, (_, k) => k + 2)
  return harmonics.some(
    m => Math.abs(alias(m * periodsPerSample) - periodsPerSample) * size < LOBE_BINS,
  )
}

const FOLDED_SAMPLES = 16_384
/** Phases that are told apart, coarsely and then finely … */
const FOLDED_PHASES = [48, 384] as const
/** … and how far a blurred line may be off, bins of the transform: farther away, parts of the true rate explain as much. */
const BLUR_BINS = 0.1
/** Steps in which all that the phases tell apart stays sharp, in phases over the whole stretch. */
const FOLD_STEP = 0.5

/**
 * The rate at which one waveform explains most: samples folded onto its period scatter least. All harmonics count at once, wherever
 * they fold to.
 */
function byFolding(voltage: Float64Array, rough: number, size: number): number {
  const used = voltage.subarray(0, FOLDED_SAMPLES)
  let periodsPerSample = rough
  let reach = BLUR_BINS / size
  for (const phases of FOLDED_PHASES) {
    const step = FOLD_STEP / phases / used.length
    const wide = Math.ceil(reach / step)
    const scatter = Array.from({ length: 2 * wide + 1 }, (_, k) =>
      scatterOf(used, periodsPerSample + (k - wide) * step, phases),
    )
    const best = scatter.reduce((least, value, k) => (value < scatter[least]! ? k : least), 0)
    periodsPerSample += (best - wide) * step
    reach = 2 * step
  }
  return periodsPerSample
}

/** Where the tallest line is the second of its pulses, a waveform at their own rate scatters by less than this part. */
const LESS_SCATTER = 0.5

/** Short pulses, or short gaps, have a second line nearly as tall as the first, and a transform may show it taller. */
function firstOf(voltage: Float64Array, periodsPerSample: number): number {
  const used = voltage.subarray(0, FOLDED_SAMPLES)
  const [phases] = FOLDED_PHASES
  const scatter = (periods: number) => scatterOf(used, periods, phases)
  // Both rates show their second line here, folded or not.
  const halves = [periodsPerSample / 2, (1 - periodsPerSample) / 2]
  const least = LESS_SCATTER * scatter(periodsPerSample)
  return halves.find(half => scatter(half) < least) ?? periodsPerSample
}

/** Mean square of what scatters around the mean waveform over a period, for each sample more than phases that were met. */
function scatterOf(values: Float64Array, periodsPerSample: number, phases: number): number {
  const sums = new Float64Array(phases)
  const counts = new Float64Array(phases)
  let left = 0
  for (let i = 0; i < values.length; i++) {
    const periods = i * periodsPerSample
    const phase = Math.floor((periods - Math.floor(periods)) * phases)
    sums[phase]! += values[i]!
    counts[phase]!++
    left += values[i]! ** 2
  }
  let free = values.length
  for (let p = 0; p < phases; p++) {
    if (counts[p] === 0) continue
    left -= sums[p]! ** 2 / counts[p]!
    free--
  }
  return left / Math.max(1, free)
}

/** A line is this much above the lowest beside it, on either side; steps of a set voltage slope away from nought. */
const ALONE = 20
const BESIDE_BINS = 9

function standsAlone(power: Float64Array, top: number): boolean {
  const lowest = (from: number, to: number) =>
    power.subarray(Math.max(1, from), to).reduce((a, b) => Math.min(a, b), power[top]!)
  const beside = [lowest(top - BESIDE_BINS, top), lowest(top + 1, top + BESIDE_BINS + 1)]
  return beside.every(low => low * ALONE < power[top]!)
}

const transformSize = ({ length }: Float64Array) =>
  Math.min(LONGEST_TRANSFORM, 2 ** Math.floor(Math.log2(length / 2)))

/** The tallest of some bins, 0 for none; the first ones hold slow changes of the mean. */
function tallest(power: Float64Array, from: number, to: number): number {
  let top = 0
  for (let b = Math.max(4, from); b < power.length - 2 && b <= to; b++) {
    if (top === 0 || power[b]! > power[top]!) top = b
  }
  return top
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
  return {
    mean,
    power: Float64Array.from(
      re.subarray(0, size / 2 + 1),
      (x, b) => (x * x + im[b]! * im[b]!) / scale,
    ),
  }
}

/** The phase that the line gains over a lag tells its frequency (in periods a sample) better than one transform. */
function finer(values: Float64Array, window: Float64Array, rough: number, lag: number): number {
  const phase = (start: number) => phaseAt(values, window, rough, start)
  const gained = (phase(lag) - phase(0)) / (2 * Math.PI)
  return rough + (gained - Math.round(gained)) / lag
}

function phaseAt(
  values: Float64Array,
  window: Float64Array,
  periodsPerSample: number,
  start: number,
): number {
  let [re, im] = [0, 0]
  for (let i = 0; i < window.length; i++) {
    const angle = 2 * Math.PI * periodsPerSample * (start + i)
    re += window[i]! * values[start + i]! * Math.cos(angle)
    im -= window[i]! * values[start + i]! * Math.sin(angle)
  }
  return Math.atan2(im, re)
}

function logParabola(power: Float64Array, top: number): number {
  const left = Math.log(power[top - 1]! / power[top]!)
  const right = Math.log(power[top + 1]! / power[top]!)
  return left + right < 0 ? (0.5 * (left - right)) / (left + right) : 0
}
