import { expect } from 'vitest'

/** Fails, showing both numbers, unless `got` lies within the relative tolerance of `want` (of zero: absolute). */
export function expectRelative(got: number, want: number, tolerance: number): void {
  const distance = want === 0 ? Math.abs(got) : Math.abs(got - want) / Math.abs(want)
  if (!(distance <= tolerance)) {
    expect.fail(`got ${got}, want ${want}: off by ${distance} relative, allowed ${tolerance}`)
  }
}
