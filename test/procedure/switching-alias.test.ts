import { expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { switchingAliasHz } from '../../src/procedure/switching-alias.ts'

/** A steady current with the ripple of a bridge switching at `pwmHz`, sampled at once. */
function sampled(rateHz: number, pwmHz: number, ripple: number, seed = 1): Float64Array {
  const normal = seededNormal(seededUniform(seed))
  return Float64Array.from({ length: 4000 }, (_, i) => {
    const sec = i / rateHz
    return 3 + 0.1 * sec + ripple * Math.sin(2 * Math.PI * pwmHz * sec + 0.4) + 0.01 * normal()
  })
}

test.each([
  // |pwm − n·rate| by hand.
  [10_000, 20_300, 300],
  [10_000, 19_000, 1000],
  [5000, 16_200, 1200],
])('sampled at %d Hz, switching at %d Hz shows at %d Hz', (rateHz, pwmHz, aliasHz) => {
  expect(switchingAliasHz(sampled(rateHz, pwmHz, 0.05), rateHz, pwmHz)).toBeCloseTo(aliasHz, 6)
})

test('a ripple that is averaged away does not show, in 200 noises', () => {
  let found = 0
  for (let seed = 0; seed < 200; seed++) {
    if (switchingAliasHz(sampled(10_000, 20_300, 0, seed), 10_000, 20_300) !== null) found++
  }
  expect(found).toBe(0)
})

test('a switching frequency in step with the samples cannot be told from the current', () => {
  expect(switchingAliasHz(sampled(10_000, 20_000, 0.05), 10_000, 20_000)).toBeNull()
})
