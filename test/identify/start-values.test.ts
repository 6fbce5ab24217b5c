import { describe, expect, test } from 'vitest'
import { jointRuns } from '../../src/identify/joint-members.ts'
import { zeroOffsets } from '../../src/identify/run-zeros.ts'
import { startValues } from '../../src/identify/start-values.ts'
import { randomCase } from '../support/random-motors.ts'
import { endsAsFromTheTruth, judgeCase } from '../support/start-value-trial.ts'

const REFERENCE = 20

/** As far off as a start was on these motors: half or double of it would still do. */
const NEAR = {
  resistance: [0.97, 1.1],
  inductance: [0.5, 1.6],
  backEmfConstant: [0.99, 1.01],
  inertia: [0.9, 1.05],
  drag: [0.85, 1.4],
} as const

test('start values of 60 random motors are near, from 0.5 W to 500 W', () => {
  for (let seed = 1; seed <= 60; seed++) {
    const { motor, runs, supplyVolt } = randomCase(seed)
    const members = jointRuns(runs, zeroOffsets(runs), REFERENCE).map(({ member }) => member)
    const start = startValues(members, {})
    const speed = supplyVolt / motor.backEmfConstantVsPerRad
    const drag = start.coulombTorqueNm + start.viscousNmsPerRad * speed
    const trueDrag =
      motor.coulombTorqueNm + motor.viscousNmsPerRad * speed + motor.windageNms2PerRad2 * speed ** 2
    const ratios: Record<keyof typeof NEAR, number> = {
      resistance: start.resistanceOhm! / motor.resistanceOhm,
      inductance: start.inductanceHenry! / motor.inductanceHenry,
      backEmfConstant: start.backEmfConstantVsPerRad! / motor.backEmfConstantVsPerRad,
      inertia: start.inertiaKgM2! / motor.inertiaKgM2,
      drag: drag / trueDrag,
    }
    for (const [name, [low, high]] of Object.entries(NEAR)) {
      const ratio = ratios[name as keyof typeof NEAR]
      expect(ratio, `${name} of motor ${seed}`).toBeGreaterThan(low)
      expect(ratio, `${name} of motor ${seed}`).toBeLessThan(high)
    }
  }
})

describe('the joint fit finds motors by itself; more of them: test/studies/start-values.md', () => {
  // The first fifteen, five that once ended elsewhere, and two whose samples are slower than L/R.
  const seeds = [...Array.from({ length: 15 }, (_, i) => i + 1), 94, 186, 192, 604, 905, 118, 185]

  test.each(seeds)(
    'motor %d',
    seed => {
      expect(judgeCase(randomCase(seed)).faults).toEqual([])
    },
    120_000,
  )

  test('one that misses the truth does so from the truth as well: noise, no start value', () => {
    const random = randomCase(129)
    expect(judgeCase(random).found).toBe(false)
    expect(endsAsFromTheTruth(random)).toBe(true)
  })
})
