export const TURN = 2 * Math.PI
/** Rounding of the last digit shown. */
const SLACK = 1e-3
/** A shaft that does more of its range from row to row may as well have turned the other way. */
const FAR = 0.4

/** Looks at a position row by row: does it start again after each turn, as an absolute encoder's angle does? */
export class TurnWatch {
  #lowest = Number.POSITIVE_INFINITY
  #highest = Number.NEGATIVE_INFINITY
  #jumps = 0
  #last = Number.NaN

  add(positions: Float64Array): void {
    for (const position of positions) {
      if (Number.isNaN(position)) continue
      if (Math.abs(position - this.#last) > TURN / 2) this.#jumps++
      this.#lowest = Math.min(this.#lowest, position)
      this.#highest = Math.max(this.#highest, position)
      this.#last = position
    }
  }

  /** All within one turn, and jumps of more than half of it. */
  get startsAgain(): boolean {
    return this.#jumps > 0 && this.#highest - this.#lowest <= TURN * (1 + SLACK)
  }
}

/** Counts a position on over its range, a turn or a full counter, each step the shorter way round. */
export class TurnCounter {
  /** Where the position starts again, rad. */
  readonly range: number
  #times = 0
  #last = Number.NaN
  /** Steps so far of nearly half the range. */
  farSteps = 0

  constructor(range = TURN) {
    this.range = range
  }

  countOn(positions: Float64Array): Float64Array {
    const { range } = this
    return positions.map(position => {
      if (Number.isNaN(position)) return position
      const step = Number.isNaN(this.#last) ? 0 : position - this.#last
      const times = Math.round(step / range)
      this.#times -= times
      if (Math.abs(step - range * times) > FAR * range) this.farSteps++
      this.#last = position
      return position + this.#times * range
    })
  }
}
