const SPAN = 4_294_967_296

/**
 * A 32-bit counter that wraps, made into one that does not (P-6.8). The step from one reading to the
 * next is the one nearest to zero, so forward gaps of up to 2^31 - 1 are seen as they are and a
 * counter that runs backwards comes out smaller than before.
 */
export class Unwrapper {
  private last: number | null = null
  private total = 0

  /** The unwrapped reading: the first one stands for itself. Exact up to 2^53. */
  next(reading: number): number {
    this.total = this.peek(reading)
    this.last = reading
    return this.total
  }

  /** The same without taking the step: for a reading that may not be believed. */
  peek(reading: number): number {
    if (!Number.isInteger(reading) || reading < 0 || reading >= SPAN) {
      throw new RangeError(`reading = ${reading}; must be an integer from 0 to 4294967295`)
    }
    return this.total + (this.last === null ? reading : (reading - this.last) | 0)
  }

  /** Forgets the past: the next reading stands for itself again. */
  reset(): void {
    this.last = null
    this.total = 0
  }
}
