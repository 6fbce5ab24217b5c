import { describe, expect, test } from 'vitest'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import { practiceSuite } from '../../src/practice-rig/practice-run.ts'
import type { PracticeMotor } from '../../src/records/practice-motor.ts'
import { PARAMETERS } from '../../src/records/parameter.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import { practiceMotor } from '../support/practice.ts'
import { jointlyIdentified } from '../support/short-test-rig.ts'

/** Share of a standard uncertainty by which a value may differ: not to be seen in any digit that counts. */
const SMALL_PART = 0.05

interface Factors {
  readonly ohm?: number
  readonly constant?: number
  readonly friction?: number
  readonly inertia?: number
}

function specimen(base: PracticeMotor, seed: number, by: Factors): PracticeMotor {
  const { winding, magnet, friction } = base
  return {
    ...base,
    inertiaKgM2: base.inertiaKgM2 * (by.inertia ?? 1),
    winding: {
      ...winding,
      copperOhm: winding.copperOhm * (by.ohm ?? 1),
      patternSeed: winding.patternSeed + seed,
    },
    magnet: {
      ...magnet,
      backEmfConstantVsPerRad: magnet.backEmfConstantVsPerRad * (by.constant ?? 1),
    },
    friction: {
      ...friction,
      coulombNm: friction.coulombNm * (by.friction ?? 1),
      staticNm: friction.staticNm * (by.friction ?? 1),
    },
  }
}

function runsOf(motor: PracticeMotor, seed: number): TestRun[] {
  const runs = practiceSuite(motor, seed, { rateHz: 5000, benchSeed: 1 })
  return [...runs.slice(0, 4), ...runs.slice(7, 11)]
}

const kins = new Map<string, FitDocument>()

function kinOf(name: string): FitDocument {
  const known = kins.get(name)
  if (known) return known
  const kin = jointlyIdentified('kin', runsOf(practiceMotor(name), 70))
  kins.set(name, kin)
  return kin
}

function fits(kin: string, motor: PracticeMotor, seed: number) {
  const runs = runsOf(motor, seed)
  return {
    alone: jointlyIdentified('sample', runs),
    beside: jointlyIdentified('sample', runs, kinOf(kin)),
  }
}

const isBeside = ({ termination }: FitDocument) => termination.endsWith("beside the fit of 'kin'")

describe('a sample identified beside a motor of its kind', () => {
  test.each<[string, Factors]>([
    ['brindle-12', { ohm: 1.03, constant: 0.99, friction: 1.08 }],
    ['brindle-12', { ohm: 1.12, friction: 1.4 }],
    ['tumbril-24', { ohm: 0.97, constant: 1.01, friction: 0.9 }],
    ['coriander-48', { ohm: 1.02, inertia: 1.1 }],
    ['dormouse-12', { ohm: 0.98, friction: 1.1 }],
  ])(
    '%s, other by %o: values and terms are those of the whole search',
    (name, by) => {
      const { alone, beside } = fits(name, specimen(practiceMotor(name), 51, by), 51)
      expect(isBeside(beside)).toBe(true)
      for (const parameter of PARAMETERS) {
        const [a, b] = [alone.parameters[parameter], beside.parameters[parameter]]
        expect(b.status, parameter).toBe(a.status)
        if (a.value === null || !a.standardUncertainty) continue
        const apart = Math.abs(b.value! - a.value) / a.standardUncertainty
        expect(apart, parameter).toBeLessThan(SMALL_PART)
      }
      expect(beside.warnings).toEqual(alone.warnings)
    },
    60_000,
  )

  test.each<[string, PracticeMotor]>([
    ['twice the friction', specimen(practiceMotor('brindle-12'), 52, { friction: 2 })],
    ['30 % more resistance', specimen(practiceMotor('brindle-12'), 53, { ohm: 1.3 })],
    ['another type', practiceMotor('tumbril-24')],
  ])(
    '%s is no kin: the whole search is made, and nothing of the kin is in it',
    (_, motor) => {
      const { alone, beside } = fits('brindle-12', motor, 54)
      expect(beside).toEqual(alone)
    },
    60_000,
  )
})
