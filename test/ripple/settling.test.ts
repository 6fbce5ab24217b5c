import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { joinedAcrossNoise } from '../../src/ripple/level-stretches.ts'
import { settledAfter, settlingOf, straightened } from '../../src/ripple/settling.ts'

const COUNT = 20_000
const TIME_CONSTANT = 4_000
const PERIODS = 0.0731

/** Share by which the shaft is slower than in the end. */
const slower = (i: number) => -0.02 * Math.exp(-i / TIME_CONSTANT)

/** Back-EMF and a line of the shaft while its speed settles exponentially. */
function settlingShaft(noiseShare: number) {
  const normal = seededNormal(seededUniform(4))
  const emf = Float64Array.from(
    { length: COUNT },
    (_, i) => 20 * (1 + slower(i)) + 20 * noiseShare * normal(),
  )
  let turned = 0
  const ripple = Float64Array.from({ length: COUNT }, (_, i) => {
    turned += PERIODS * (1 + slower(i))
    return Math.cos(2 * Math.PI * turned)
  })
  return { emf, ripple }
}

/** Amplitude of the line of so many periods a sample: 1 for a pure cosine (discrete Fourier sum). */
function amplitudeAt(values: Float64Array, periods: number): number {
  let [re, im] = [0, 0]
  for (const [i, value] of values.entries()) {
    re += value * Math.cos(2 * Math.PI * periods * i)
    im += value * Math.sin(2 * Math.PI * periods * i)
  }
  return (2 * Math.hypot(re, im)) / values.length
}

describe('a level whose speed still settles at first', () => {
  test('is straightened: a line of the shaft grows nearly as sharp as at one speed', () => {
    const { emf, ripple } = settlingShaft(0.005)
    const course = settlingOf(emf)!
    const tallest = (values: Float64Array) =>
      Math.max(
        ...Array.from({ length: 81 }, (_, k) =>
          amplitudeAt(values, PERIODS * (1 + (k - 40) * 2e-4)),
        ),
      )
    expect(tallest(ripple)).toBeLessThan(0.8)
    expect(tallest(straightened(ripple, course))).toBeGreaterThan(0.95)
  })

  test('counts as settled once it differs by less than smears a line', () => {
    const { emf } = settlingShaft(0)
    const after = settledAfter(settlingOf(emf)!, COUNT)
    expect(Math.abs(slower(after))).toBeLessThan(0.002)
    expect(Math.abs(slower(after))).toBeGreaterThan(0.001)
  })

  test('is left alone where only noise is seen, or too large a change', () => {
    const normal = seededNormal(seededUniform(8))
    const steady = Float64Array.from({ length: COUNT }, () => 20 + 0.3 * normal())
    const start = Float64Array.from({ length: COUNT }, (_, i) => 20 * (1 - Math.exp(-i / 2_000)))
    expect(settlingOf(steady)).toBeNull()
    expect(settlingOf(start)).toBeNull()
  })
})

describe('a level cut by the noise of the back-EMF', () => {
  const emf = Float64Array.from({ length: 1_000 }, (_, i) =>
    i < 500 ? 10 : i < 600 ? 10 + 2 * Math.sin((2 * Math.PI * (i - 500)) / 100) : 10,
  )

  test('is one where its mean stayed', () => {
    const stretches = [
      [0, 500],
      [600, 1_000],
    ] as const
    expect(joinedAcrossNoise(stretches, emf, 10, 0.01)).toEqual([[0, 1_000]])
  })

  test('stays cut where the speed was another one, or the gap is longer than what it parts', () => {
    const faster = emf.map((volt, i) => (i >= 500 && i < 600 ? 10.5 : volt))
    const far = [
      [0, 500],
      [600, 1_000],
    ] as const
    expect(joinedAcrossNoise(far, faster, 10, 0.01)).toEqual(far)
    const short = [
      [480, 500],
      [600, 640],
    ] as const
    expect(joinedAcrossNoise(short, emf, 10, 0.01)).toEqual(short)
  })
})
