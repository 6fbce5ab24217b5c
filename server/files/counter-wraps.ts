/** Counters of fewer bits are not built into encoders' inputs; 2^32 is the widest that a logger prints. */
const FEWEST_BITS = 8
const MOST_BITS = 32
/** 1000 and 1024 counts are 2.4 % apart: what is nearer than this to a power of two is one. */
const NEAR = 0.01
/** A cell that was scaled and scaled back is whole to rounding. */
const WHOLE = 1e-4
/** Jumps kept: more tell nothing new. */
const KEPT = 512
/** Steps of noise at rest are a larger share of its span; a course that runs through its span has smaller ones. */
const SMOOTH = 0.05

/** A step against the course before and after it. */
interface Jump {
  readonly before: number
  readonly size: number
  after: number
}

/**
 * Looks at a position row by row, in the counts of its cells: does it fall back by more than half its
 * span and run on as before, as a counter does that is full? The course on both sides says by how much.
 */
export class CounterWatch {
  readonly #radPerCount: number
  #lowest = Number.POSITIVE_INFINITY
  #highest = Number.NEGATIVE_INFINITY
  #isWhole = true
  #last = Number.NaN
  #course = Number.NaN
  #jumps: Jump[] = []
  #open: Jump | null = null
  #steps = 0
  #path = 0

  constructor(radPerCount: number) {
    this.#radPerCount = radPerCount
  }

  add(positions: Float64Array): void {
    for (const position of positions) {
      if (Number.isNaN(position)) continue
      const counts = position / this.#radPerCount
      if (Math.abs(counts - Math.round(counts)) > WHOLE) this.#isWhole = false
      if (counts < this.#lowest) this.#lowest = counts
      if (counts > this.#highest) this.#highest = counts
      this.#step(counts - this.#last)
      this.#last = counts
    }
  }

  #step(step: number): void {
    if (Number.isNaN(step)) return
    if (Math.abs(step) > this.#span / 2) {
      if (this.#jumps.length === KEPT)
        this.#jumps = this.#jumps.filter(jump => Math.abs(jump.size) > this.#span / 2)
      this.#open = { before: this.#course, size: step, after: Number.NaN }
      if (this.#jumps.length < KEPT) this.#jumps.push(this.#open)
      return
    }
    this.#steps++
    this.#path += Math.abs(step)
    // A slow shaft keeps its count over many rows.
    if (step === 0) return
    this.#course = step
    if (this.#open) this.#open.after = step
    this.#open = null
  }

  get #span(): number {
    return this.#highest - this.#lowest
  }

  /** By how much it falls back, in counts; null where it does not. */
  get fallsBackBy(): number | null {
    const sizes = this.#jumps
      .filter(
        ({ before, size, after }) =>
          Math.abs(size) > this.#span / 2 && before * size < 0 && after * size < 0,
      )
      .map(({ before, size, after }) => Math.abs(size) + Math.abs(before + after) / 2)
      .sort((a, b) => a - b)
    return sizes[sizes.length >> 1] ?? null
  }

  /** Counts of a full counter, a power of two; null where what falls back is none. */
  get fullAt(): number | null {
    const fall = this.fallsBackBy
    if (fall === null || !this.#isWhole) return null
    const bits = Math.round(Math.log2(fall))
    const full = 2 ** bits
    const isOne = Math.abs(fall / full - 1) <= NEAR && this.#span < full
    return isOne && bits >= FEWEST_BITS && bits <= MOST_BITS ? full : null
  }

  /** True where the rest of the course is smooth: what falls back is no noise. */
  get isSmooth(): boolean {
    return this.#path < SMOOTH * this.#steps * this.#span
  }
}
