/// <reference path="../numerics/spectrum/fourier-transform.d.ts" />
import { fft } from 'fourier-transform'
import { solveCholesky, triangleAt, triangleSize } from '../numerics/symmetric.ts'
import { acrossAt, hannAt, kernel } from './hann-products.ts'
import { factorOf } from './tones.ts'

/** Tones this near to a line, in resolutions of the stretch, take some of it. */
const NEAR_BINS = 16
/** Of a line, so much must be left of its own: nearer to a tone it cannot be told from it at all. */
const LEAST_OWN_SHARE = 1e-4
const LEAST_PADDING = 4

/**
 * A stretch under a Hann window, from which tones were taken off, ready to be asked for lines. Frequencies are in periods
 * a value, from 0 to ½.
 */
export class WindowedLines {
  readonly count: number
  readonly #tones: readonly number[]
  readonly #re: Float64Array
  readonly #im: Float64Array
  readonly #size: number

  /** @param tones that `withoutTones` took off, and much of any line near them */
  constructor(values: Float64Array, tones: readonly number[]) {
    this.count = values.length
    this.#tones = tones
    this.#size = 2 ** Math.ceil(Math.log2(LEAST_PADDING * this.count))
    const padded = new Float64Array(this.#size)
    // The middle of the stretch at time nought: phases then change slowly from bin to bin.
    for (const [k, value] of values.entries()) {
      const weight = hannAt(acrossAt(k, this.count))
      padded[(k - (this.count >> 1) + this.#size) % this.#size] = weight * value
    }
    const [re, im] = fft(padded)
    this.#re = re.slice()
    this.#im = im.slice()
  }

  /**
   * How much power at a frequency the tones do not account for: what is left of it when tones and line are fitted together by
   * least squares. 0 where a tone hides it.
   *
   * @param frequencies all near enough to each other for the same tones to matter
   */
  beside(frequencies: readonly number[]): Float64Array {
    const [low, high] = [Math.min(...frequencies), Math.max(...frequencies)]
    const reach = NEAR_BINS / this.count
    const near = this.#tones.filter(tone => tone > low - reach && tone < high + reach)
    const size = 2 * near.length
    const gram = new Float64Array(triangleSize(size))
    for (const [a, tone] of near.entries()) {
      for (let b = 0; b <= a; b++) {
        const apart = (near[b]! - tone) * this.count
        gram[triangleAt(2 * a, 2 * b)] = kernel(0, apart)
        gram[triangleAt(2 * a + 1, 2 * b)] = kernel(1, apart)
        if (b < a) gram[triangleAt(2 * a, 2 * b + 1)] = -kernel(1, apart)
        gram[triangleAt(2 * a + 1, 2 * b + 1)] = kernel(2, apart)
      }
    }
    const factor = factorOf(gram, size)
    return Float64Array.from(frequencies, frequency => {
      const overlap = new Float64Array(size)
      for (const [a, tone] of near.entries()) {
        const apart = (frequency - tone) * this.count
        overlap[2 * a] = kernel(0, apart)
        overlap[2 * a + 1] = kernel(1, apart)
      }
      const solved = overlap.slice()
      solveCholesky(factor, size, solved)
      const [x, y] = this.#at(frequency)
      let own = 1
      for (let j = 0; j < size; j++) own -= overlap[j]! * solved[j]!
      return own > LEAST_OWN_SHARE ? (x * x + y * y) / own : 0
    })
  }

  /** By a cubic through four bins. */
  #at(frequency: number): [number, number] {
    const place = frequency * this.#size
    const b = Math.floor(place)
    const t = place - b
    const weights = [
      -0.5 * t + t * t - 0.5 * t * t * t,
      1 - 2.5 * t * t + 1.5 * t * t * t,
      0.5 * t + 2 * t * t - 1.5 * t * t * t,
      -0.5 * t * t + 0.5 * t * t * t,
    ]
    let [x, y] = [0, 0]
    for (const [k, weight] of weights.entries()) {
      const bin = b + k - 1
      const folded = bin < 0 ? -bin : Math.min(bin, this.#size - bin)
      x += (weight * this.#re[folded]!) / this.count
      y += ((bin === folded ? 1 : -1) * weight * this.#im[folded]!) / this.count
    }
    return [x, y]
  }
}
