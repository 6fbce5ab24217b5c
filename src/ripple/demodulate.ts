import { windowOf } from '../numerics/spectrum/octave-spectrum.ts'

/** A ripple laid out over the expected angle of the shaft, and the windows through which it is looked at. */
export interface LaidOut {
  readonly values: Float64Array
  /** Turns of the expected angle a value. */
  readonly step: number
  /** Values in a window, from one window to the next, and windows in all. */
  readonly length: number
  readonly hop: number
  readonly count: number
}

/** Amplitude and phase of one order of the shaft, window by window. */
export interface Demodulated {
  readonly re: Float64Array
  readonly im: Float64Array
}

/**
 * Hann-windowed Fourier coefficients at one order of the expected angle. The phase tells by how much the shaft is ahead of
 * what was expected: `order` times the angle.
 *
 * @param lag by how much the ripple lags behind the back-EMF's at each window, radians
 */
export function demodulate(
  { values, step, length, hop, count }: LaidOut,
  order: number,
  lag: (window: number) => number,
): Demodulated {
  const cos = new Float64Array(length)
  const sin = new Float64Array(length)
  for (let i = 0; i < length; i++) {
    // Values are means over steps: their middle is half a step on.
    const angle = 2 * Math.PI * order * step * (i + 0.5)
    cos[i] = Math.cos(angle)
    sin[i] = Math.sin(angle)
  }
  const window = windowOf('hann', length)
  blindToTrend(cos, window)
  blindToTrend(sin, window)
  const re = new Float64Array(count)
  const im = new Float64Array(count)
  for (let w = 0; w < count; w++) {
    const start = w * hop
    let x = 0
    let y = 0
    for (let i = 0; i < length; i++) {
      x += values[start + i]! * cos[i]!
      y -= values[start + i]! * sin[i]!
    }
    const turn = lag(w) - 2 * Math.PI * order * step * start
    re[w] = x * Math.cos(turn) - y * Math.sin(turn)
    im[w] = x * Math.sin(turn) + y * Math.cos(turn)
  }
  return { re, im }
}

/** Windows a wave and takes out of it what a parabola would leave a trace in: the slow course of the signal. */
function blindToTrend(wave: Float64Array, window: Float64Array): void {
  const n = wave.length
  const basis: Float64Array[] = []
  for (let power = 0; power <= 2; power++) {
    const shape = Float64Array.from(wave, (_, i) => ((2 * i + 1) / n - 1) ** power)
    for (const other of basis) remove(shape, other, window)
    basis.push(shape)
  }
  for (const shape of basis) remove(wave, shape, window)
  for (let i = 0; i < n; i++) wave[i]! *= window[i]!
}

function remove(from: Float64Array, shape: Float64Array, window: Float64Array): void {
  let product = 0
  let square = 0
  for (let i = 0; i < from.length; i++) {
    product += window[i]! * from[i]! * shape[i]!
    square += window[i]! * shape[i]! ** 2
  }
  for (let i = 0; i < from.length; i++) from[i]! -= (product / square) * shape[i]!
}

/** Phase in radians, followed from window to window without jumps. */
export function unwrapped({ re, im }: Demodulated): Float64Array {
  const phases = new Float64Array(re.length)
  let before = Math.atan2(im[0] ?? 0, re[0] ?? 1)
  let total = before
  phases[0] = total
  for (let w = 1; w < re.length; w++) {
    const phase = Math.atan2(im[w]!, re[w]!)
    const step = phase - before
    total += step - 2 * Math.PI * Math.round(step / (2 * Math.PI))
    before = phase
    phases[w] = total
  }
  return phases
}

/**
 * How well the phases near each window lie on a straight line, weighted by their amplitudes: |Σ a e^{i(φ − line)}|/Σ a.
 * One where a line is followed, small where there is only noise.
 */
export function coherence(
  { re, im }: Demodulated,
  phases: Float64Array,
  reach: number,
): Float64Array {
  const count = re.length
  return phases.map((_, w) => {
    const from = Math.max(0, w - reach)
    const to = Math.min(count - 1, w + reach)
    const slope = to > from ? (phases[to]! - phases[from]!) / (to - from) : 0
    let x = 0
    let y = 0
    let total = 0
    for (let v = from; v <= to; v++) {
      const amplitude = Math.hypot(re[v]!, im[v]!)
      const away = phases[v]! - phases[w]! - slope * (v - w)
      x += amplitude * Math.cos(away)
      y += amplitude * Math.sin(away)
      total += amplitude
    }
    return total > 0 ? Math.hypot(x, y) / total : 0
  })
}
