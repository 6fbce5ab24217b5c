import { expect } from 'vitest'
import { meanSpeed } from '../../src/ripple/mean-speed.ts'
import type { trackRipple } from '../../src/ripple/track-ripple.ts'
import { type LineSumCase, lineSumCase } from './line-sum-case.ts'

const LEAST_SHARE = 0.75

/** Three sums of lines in four are told within 0.1 %, and none otherwise. */
export function expectMostTold(
  seeds: readonly number[],
  tracked: (c: LineSumCase) => ReturnType<typeof trackRipple>,
): void {
  let told = 0
  for (const seed of seeds) {
    const c = lineSumCase(seed)
    const found = tracked(c)
    const speed = found.ok
      ? meanSpeed(found.value, c.steadyFromSec, Number.POSITIVE_INFINITY)
      : null
    if (speed === null) continue
    expect(Math.abs(speed.radPerSec / c.speedRadPerSec - 1), `seed ${seed}`).toBeLessThan(1e-3)
    told++
  }
  expect(told).toBeGreaterThanOrEqual(LEAST_SHARE * seeds.length)
}
