import { describe, expect, test } from 'vitest'
import { edgeCurrentAmp, effectiveLimits, type LimitsGiven } from '../../src/procedure/limits.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { standInRig } from './stand-in-motor.ts'

const GIVEN: LimitsGiven = {
  motorAmp: null,
  motorVolt: null,
  motorRadPerSec: null,
  supplyVolt: 24,
  supplyAmp: 8,
  riseKelvin: 30,
  above60VoltDeclared: false,
}
const RIG = standInRig().limits

function limitsWith(changes: Partial<LimitsGiven>, rig = RIG) {
  const limits = effectiveLimits({ ...GIVEN, ...changes }, rig)
  if (!limits.ok) throw new Error(limits.error)
  return limits.value
}

describe('the lowest limit counts, and whose it is', () => {
  test.each([
    [{}, 8, "the supply's current limit"],
    [{ motorAmp: 3 }, 3, "the operator's current limit"],
    [{ supplyAmp: 100 }, 30, "the rig's current limit"],
    [{ supplyAmp: null }, 30, "the rig's current limit"],
  ] as const)('current: %o', (changes, amp, by) => {
    expect(limitsWith(changes)).toMatchObject({ currentAmp: amp, currentLimitedBy: by })
  })

  test.each([
    [{}, 24, "the supply's voltage"],
    [{ motorVolt: 12 }, 12, "the motor's highest voltage"],
    [{ supplyVolt: 55 }, 48, "the rig's voltage limit"],
  ] as const)('voltage: %o', (changes, volt, by) => {
    expect(limitsWith(changes)).toMatchObject({ voltageVolt: volt, voltageLimitedBy: by })
  })

  test('speed: the lower of operator and rig, none where neither says one', () => {
    expect(limitsWith({ motorRadPerSec: 500 }).speedRadPerSec).toBe(500)
    expect(limitsWith({}).speedRadPerSec).toBe(3000)
    expect(limitsWith({}, { ...RIG, speedRadPerSec: null }).speedRadPerSec).toBeNull()
  })

  test('the bus may be pumped up a little above the supply, never above the rig’s limit', () => {
    expect(limitsWith({}).busVolt).toBeCloseTo(28.8, 10)
    expect(limitsWith({ supplyVolt: 55 }).busVolt).toBe(60)
  })
})

test('above 60 V DC nothing is driven unless the bench declares it', () => {
  const refused = effectiveLimits({ ...GIVEN, supplyVolt: 60.1 }, RIG)
  expect(refused).toEqual({
    ok: false,
    error:
      'supply of 60.1 V: above 60 V DC nothing is driven unless the bench is declared fit for it',
  })
  expect(effectiveLimits({ ...GIVEN, supplyVolt: 60 }, RIG).ok).toBe(true)
  expect(limitsWith({ supplyVolt: 80, above60VoltDeclared: true }).voltageVolt).toBe(48)
})

test.each([
  [{ motorAmp: 0 }, /current limit of 0: must be a number above 0/],
  [{ motorVolt: Number.NaN, supplyVolt: -1 }, /voltage limit of -1/],
  [{ riseKelvin: -5 }, /temperature-rise limit of -5/],
])('a limit of nothing is refused: %o', (changes, words) => {
  const refused = effectiveLimits({ ...GIVEN, ...changes }, RIG)
  expect(refused.ok ? '' : refused.error).toMatch(words)
})

describe('braking currents', () => {
  // 0.05 V s/rad at 400 rad/s over 0.4 ohm, by hand.
  const backEmf = 0.05 * 400
  test.each([
    ['brake: kω/R', 0, 50],
    ['reversal at the speed of the same voltage: twice the stall current', -20, 100],
    ['no step at all', 20, 0],
    ['a step up', 24, 10],
  ])('%s', (_, setVolt, amp) => {
    expectRelative(edgeCurrentAmp(setVolt, backEmf, 0.4), amp, 1e-12)
  })
})
