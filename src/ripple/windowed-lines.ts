/// <reference path="../numerics/spectrum/fourier-transform.d.ts" />
import { fft } from 'fourier-transform'
import { cholesky, solveCholesky, triangleAt, triangleSize } from '../numerics/symmetric.ts'

/** Tones this near to a line, in resolutions of the stretch, are allowed for; a Hann window hides the rest. */
const NEAR_BINS = 16
/** Of a line, so much must be left of its own: nearer to a tone it cannot be told from it at all. */
const LEAST_OWN_SHARE = 1e-4
const RIDGE = 1e-6
const LEAST_PADDING = 4

/** A stretch under a Hann window, ready to be asked for lines. Frequencies are in periods a value, from 0 to ½. */
export class WindowedLines {
  readonly count: number
  readonly #windowed: Float64Array
  readonly #re: Float64Array
  readonly #im: Float64Array
  readonly #size: number
  /** Of tones that were asked for before. */
  readonly #products = new Map<number, readonly [number, number, number, number]>()

  constructor(values: Float64Array) {
    this.count = values.length
    this.#windowed = values.map((value, k) => value * (1 + Math.cos(Math.PI * this.#across(k))))
    this.#size = 2 ** Math.ceil(Math.log2(LEAST_PADDING * this.count))
    const padded = new Float64Array(this.#size)
    // The middle of the stretch at time nought: phases then change slowly from bin to bin.
    for (const [k, value] of this.#windowed.entries()) {
      padded[(k - (this.count >> 1) + this.#size) % this.#size] = value
    }
    const [re, im] = fft(padded)
    this.#re = re.slice()
    this.#im = im.slice()
  }

  /**
   * How much power at a frequency the tones do not account for, whatever their phases, amplitudes, and steady growth or decay:
   * what is left of it when tones and line are fitted together by least squares. 0 where a tone hides it.
   *
   * @param frequencies all near enough to each other for the same tones to matter
   */
  beside(frequencies: readonly number[], tones: readonly number[]): Float64Array {
    const [low, high] = [Math.min(...frequencies), Math.max(...frequencies)]
    const reach = NEAR_BINS / this.count
    const near = tones.filter(tone => tone > low - reach && tone < high + reach)
    const size = 2 * near.length
    const gram = new Float64Array(triangleSize(size))
    const re = new Float64Array(size)
    const im = new Float64Array(size)
    for (const [a, tone] of near.entries()) {
      const [x, y, slopeX, slopeY] = this.#project(tone)
      re[2 * a] = x
      im[2 * a] = y
      re[2 * a + 1] = slopeX
      im[2 * a + 1] = slopeY
      for (let b = 0; b <= a; b++) {
        const apart = (near[b]! - tone) * this.count
        gram[triangleAt(2 * a, 2 * b)] = kernel(0, apart)
        gram[triangleAt(2 * a + 1, 2 * b)] = kernel(1, apart)
        if (b < a) gram[triangleAt(2 * a, 2 * b + 1)] = -kernel(1, apart)
        gram[triangleAt(2 * a + 1, 2 * b + 1)] = kernel(2, apart)
      }
    }
    for (let j = 0; j < size; j++) gram[triangleAt(j, j)]! += RIDGE
    const factor = cholesky(gram, size)!
    solveCholesky(factor, size, re)
    solveCholesky(factor, size, im)
    return Float64Array.from(frequencies, frequency => {
      const overlap = new Float64Array(size)
      for (const [a, tone] of near.entries()) {
        const apart = (frequency - tone) * this.count
        overlap[2 * a] = kernel(0, apart)
        overlap[2 * a + 1] = kernel(1, apart)
      }
      const solved = overlap.slice()
      solveCholesky(factor, size, solved)
      let [x, y] = this.#at(frequency)
      let own = 1
      for (let j = 0; j < size; j++) {
        x -= overlap[j]! * re[j]!
        y -= overlap[j]! * im[j]!
        own -= overlap[j]! * solved[j]!
      }
      return own > LEAST_OWN_SHARE ? (x * x + y * y) / own : 0
    })
  }

  /** −1 to 1 over the stretch. */
  #across(k: number): number {
    return (2 * (k - (this.count >> 1))) / this.count
  }

  /** Onto e^{iωk} and onto i τ e^{iωk}, which makes all products of two such columns real. */
  #project(tone: number): readonly [number, number, number, number] {
    const known = this.#products.get(tone)
    if (known !== undefined) return known
    let [x, y, slopeX, slopeY] = [0, 0, 0, 0]
    const [stepCos, stepSin] = [Math.cos(2 * Math.PI * tone), Math.sin(2 * Math.PI * tone)]
    let cos = Math.cos(2 * Math.PI * tone * (this.count >> 1))
    let sin = -Math.sin(2 * Math.PI * tone * (this.count >> 1))
    for (let k = 0; k < this.count; k++) {
      const value = this.#windowed[k]! / this.count
      const re = value * cos
      const im = -value * sin
      const across = this.#across(k)
      x += re
      y += im
      slopeX += across * im
      slopeY -= across * re
      const turned = cos * stepCos - sin * stepSin
      sin = sin * stepCos + cos * stepSin
      cos = turned
    }
    const found = [x, y, slopeX, slopeY] as const
    this.#products.set(tone, found)
    return found
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

const TABLE_STEP = 1 / 32
const TABLE_REACH = 64
const QUADRATURE = 160
const tables: Float64Array[] = []

/**
 * Products under the window of two columns so many resolutions apart, mean weight 1: ∫ w cos, ∫ w τ sin and ∫ w τ² cos of
 * 2πux over x = τ/2 from −½ to ½.
 */
function kernel(power: 0 | 1 | 2, apart: number): number {
  const away = Math.abs(apart) / TABLE_STEP
  const below = Math.floor(away)
  if (below >= TABLE_REACH / TABLE_STEP) return 0
  tables[power] ??= kernelTable(power)
  const table = tables[power]
  const value = table[below]! + (away - below) * (table[below + 1]! - table[below]!)
  return power === 1 && apart < 0 ? -value : value
}

function kernelTable(power: 0 | 1 | 2): Float64Array {
  return Float64Array.from({ length: TABLE_REACH / TABLE_STEP + 1 }, (_, row) => {
    const u = row * TABLE_STEP
    let sum = 0
    for (let q = 0; q < QUADRATURE; q++) {
      const x = (q + 0.5) / QUADRATURE - 0.5
      const wave = power === 1 ? Math.sin(2 * Math.PI * u * x) : Math.cos(2 * Math.PI * u * x)
      sum += ((1 + Math.cos(2 * Math.PI * x)) * (2 * x) ** power * wave) / QUADRATURE
    }
    return sum
  })
}
