/**
 * A number with its slopes along every parameter, carried exactly through arithmetic (forward differentiation
 * by the chain rule), so that a formula need be written only once.
 */
export class SlopeNumber {
  readonly value: number
  readonly slopes: readonly number[]

  constructor(value: number, slopes: readonly number[]) {
    this.value = value
    this.slopes = slopes
  }

  /** The parameters themselves: each has slope 1 along itself. */
  static parameters(values: ArrayLike<number>): SlopeNumber[] {
    return Array.from(
      values,
      (value, j) =>
        new SlopeNumber(
          value,
          Array.from(values, (_, l) => (l === j ? 1 : 0)),
        ),
    )
  }

  plus(other: SlopeNumber | number): SlopeNumber {
    if (typeof other === 'number') return new SlopeNumber(this.value + other, this.slopes)
    return new SlopeNumber(
      this.value + other.value,
      this.slopes.map((s, j) => s + other.slopes[j]!),
    )
  }

  times(other: SlopeNumber | number): SlopeNumber {
    if (typeof other === 'number') return this.through(this.value * other, other)
    return new SlopeNumber(
      this.value * other.value,
      this.slopes.map((s, j) => s * other.value + this.value * other.slopes[j]!),
    )
  }

  minus(other: SlopeNumber | number): SlopeNumber {
    return this.plus(typeof other === 'number' ? -other : other.times(-1))
  }

  over(other: SlopeNumber | number): SlopeNumber {
    return typeof other === 'number' ? this.times(1 / other) : this.times(other.power(-1))
  }

  power(exponent: number): SlopeNumber {
    return this.through(this.value ** exponent, exponent * this.value ** (exponent - 1))
  }

  exp(): SlopeNumber {
    const value = Math.exp(this.value)
    return this.through(value, value)
  }

  log(): SlopeNumber {
    return this.through(Math.log(this.value), 1 / this.value)
  }

  sin(): SlopeNumber {
    return this.through(Math.sin(this.value), Math.cos(this.value))
  }

  cos(): SlopeNumber {
    return this.through(Math.cos(this.value), -Math.sin(this.value))
  }

  atan(): SlopeNumber {
    return this.through(Math.atan(this.value), 1 / (1 + this.value ** 2))
  }

  private through(value: number, slope: number): SlopeNumber {
    return new SlopeNumber(
      value,
      this.slopes.map(s => s * slope),
    )
  }
}
