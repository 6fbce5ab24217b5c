const TURN = 2 * Math.PI
/** Rounding of the last digit shown. */
const SLACK = 1e-3
/** A shaft that does more of a turn from row to row may as well have turned the other way. */
const FAR = 0.4 * TURN

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

/** Counts a position on over the turns, each step the shorter way round. */
export class TurnCounter {
  #turns = 0
  #last = Number.NaN
  /** Steps so far of nearly half a turn. */
  farSteps = 0

  countOn(positions: Float64Array): Float64Array {
    return positions.map(position => {
      if (Number.isNaN(position)) return position
      const step = Number.isNaN(this.#last) ? 0 : position - this.#last
      this.#turns -= Math.round(step / TURN)
      if (Math.abs(step - TURN * Math.round(step / TURN)) > FAR) this.farSteps++
      this.#last = position
      return position + this.#turns * TURN
    })
  }
}
