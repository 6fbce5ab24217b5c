import { describe, expect, test } from 'vitest'
import { type OperatorTest, planOperatorTest } from '../../src/procedure/plan-operator.ts'
import { planText } from '../../src/procedure/plan-text.ts'
import { planDurationSec } from '../../src/procedure/test-plan.ts'
import { TEST_KINDS } from '../../src/records/test-kind.ts'
import { standInRig } from './stand-in-motor.ts'

const RIG = standInRig()

const asked = (changes: Partial<OperatorTest>): OperatorTest => ({
  kind: 'free-run',
  voltageVolt: 6,
  currentLimitAmp: 2,
  durationSec: null,
  ambientCelsius: 21,
  above60VoltDeclared: false,
  ...changes,
})

function planned(changes: Partial<OperatorTest>, rig = RIG) {
  const plan = planOperatorTest(asked(changes), rig)
  if (!plan.ok) throw new Error(plan.error)
  return plan.value
}

describe('a plan for every kind', () => {
  test.each(TEST_KINDS)('%s lasts as long as asked and stays within voltage and current', kind => {
    const voltageVolt = kind === 'zero' || kind === 'back-driven' ? null : 6
    const durationSec = kind === 'heating' ? 40 : 4
    const plan = planned({ kind, voltageVolt, durationSec })
    expect(plan.kind).toBe(kind)
    expect(planDurationSec(plan)).toBeCloseTo(durationSec, 0)
    for (const step of plan.steps) {
      expect(Math.abs(step.setVolt)).toBeLessThanOrEqual(6)
      expect(step.currentLimitAmp).toBe(2)
      expect(step.durationSec).toBeLessThanOrEqual(RIG.limits.longestDriveSec!)
    }
    expect(plan.conditions.ambientCelsius).toBe(21)
    expect(plan.expectedPeakAmp === null).toBe(voltageVolt !== null)
  })
})

test('a locked rotor gets pulses of both polarities, from weak to strong, shorter than the rig’s stall limit', () => {
  const plan = planned({ kind: 'locked-rotor', durationSec: 2 })
  const volts = plan.steps.filter(step => step.bridge === 'drive').map(step => step.setVolt)
  expect(volts.slice(0, 8)).toEqual([1.5, -1.5, 3, -3, 4.5, -4.5, 6, -6])
  expect(plan.shaft).toBe('locked')
  expect(Math.max(...plan.steps.map(step => step.durationSec))).toBeLessThan(RIG.limits.stallSec!)
})

test('a negative voltage turns the other way, and is refused where the rig cannot', () => {
  expect(planned({ voltageVolt: -6 }).steps.at(-1)!.setVolt).toBe(-6)
  const refused = planOperatorTest(asked({ voltageVolt: -6 }), standInRig({ reversible: false }))
  expect(refused).toEqual({
    ok: false,
    error: 'free-run: this rig cannot drive in negative direction',
  })
})

test('the rig’s own limit counts where the operator’s is higher', () => {
  expect(planned({ currentLimitAmp: 99 }).steps[1]!.currentLimitAmp).toBe(30)
})

test('a long hold is split into commands that the rig accepts', () => {
  const plan = planned({ kind: 'back-driven', voltageVolt: null, durationSec: 61 })
  expect(plan.steps.length).toBeGreaterThan(12)
  expect(planDurationSec(plan)).toBeCloseTo(61, 1)
})

test.each([
  [{ voltageVolt: null }, 'free-run: needs a voltage, for example --voltage 3'],
  [{ voltageVolt: 0 }, 'free-run: needs a voltage, for example --voltage 3'],
  [{ kind: 'zero' }, 'zero: the bridge stays off; leave out --voltage'],
  [{ voltageVolt: 30 }, "free-run: 30 V: the supply's voltage allows 24 V"],
  [{ currentLimitAmp: 0 }, 'current limit of 0 A; must be above 0 A'],
  [{ durationSec: 0.1 }, 'duration of 0.1 s; must be from 0.5 s to 3600 s'],
  [{ durationSec: Number.NaN }, 'duration of NaN s; must be from 0.5 s to 3600 s'],
  [
    { kind: 'locked-rotor', durationSec: 0.6 },
    'locked-rotor: 0.5 s is too short for 8 pulses; at least 0.7 s',
  ],
] as const)('bad numbers get one line: %o', (changes, error) => {
  expect(planOperatorTest(asked(changes), RIG)).toEqual({ ok: false, error })
})

test('a supply above 60 V is refused on a bench that does not declare it', () => {
  const plan = planOperatorTest(asked({ conditions: { supplyVolt: 72 } }), RIG)
  expect(plan.ok ? '' : plan.error).toMatch(/above 60 V DC/)
})

test('the operator is told volts, seconds and amperes before anything moves', () => {
  const plain = (text: string) => text.replaceAll('\u00a0', ' ')
  expect(plain(planText(planned({ durationSec: 6 })))).toBe(
    'Drives up to 6.00 V for 6.0 s in all; current not known yet, bridge off above 2.00 A.',
  )
  expect(plain(planText(planned({ kind: 'zero', voltageVolt: null })))).toBe(
    'Bridge off for 2.0 s: nothing is driven.',
  )
})
