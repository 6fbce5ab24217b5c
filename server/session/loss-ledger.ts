interface Range {
  readonly from: number
  readonly to: number
}

/** Missing samples, by who lost them. */
export interface Loss {
  readonly link: number
  readonly rig: number
}

/**
 * Tells samples that the rig says it dropped (P-7.6) from those that the line lost. Counters are
 * unwrapped. Nothing is estimated: a gap between counters is a count.
 */
export class LossLedger {
  #dropped: Range[] = []
  #link = 0
  #rig = 0

  get link(): number {
    return this.#link
  }

  get rig(): number {
    return this.#rig
  }

  get total(): number {
    return this.#link + this.#rig
  }

  /** The rig said so, ahead of the sample that follows the gap. */
  overrun(sequence: number, dropped: number): void {
    this.#dropped.push({ from: sequence, to: sequence + dropped })
  }

  /** Samples `from` up to `to` did not come. */
  gap(from: number, to: number): Loss {
    let rig = 0
    for (const range of this.#dropped) {
      rig += Math.max(0, Math.min(to, range.to) - Math.max(from, range.from))
    }
    this.#dropped = this.#dropped.filter(range => range.to > to)
    const loss = { rig, link: to - from - rig }
    this.#rig += loss.rig
    this.#link += loss.link
    return loss
  }
}
