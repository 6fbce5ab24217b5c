import { describe, expect, test } from 'vitest'
import { seededUniform } from '../../src/base/random.ts'
import {
  HOTTEST_OVER_MEAN,
  leastByMassJPerKelvin,
  leastJPerKelvin,
} from '../../src/procedure/heat.ts'
import { practiceMotor } from '../support/practice.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { practiceWalkBench } from './practice-walk-bench.ts'
import { randomMotor, standInBench, suitedRig } from './stand-in-motor.ts'
import { type Walk, walkSequence } from './walk-sequence.ts'

/** What must hold of every pass, whatever the motor. */
function expectSafe(walk: Walk, limitAmp: number, limitVolt: number): void {
  expect(walk.tripped).toEqual([])
  for (const { run, peakAmp } of walk.runs) {
    expect(peakAmp, run.title).toBeLessThan(limitAmp)
    const volts = run.plan.steps.map(step => Math.abs(step.setVolt))
    expect(Math.max(...volts), run.title).toBeLessThanOrEqual(limitVolt + 1e-3)
  }
}

/**
 * From 1 W to 300 W, on 6 V to 48 V; the operator states limits from 0.5 A to 30 A, and the mass only
 * where it is asked for again because the winding might not stand the next test.
 */
const MOTORS = Array.from({ length: 10 }, (_, n) => {
  const uniform = seededUniform(500 + n)
  const powerWatt = 300 ** ((n + uniform()) / 10)
  const volt = [6, 12, 24, 48][Math.min(3, Math.floor(Math.log2(2 + powerWatt / 10) * 0.9))]!
  const motor = randomMotor(uniform, powerWatt, volt)
  const stallAmp = (volt - motor.brushVolt) / motor.resistanceOhm
  const noLoadAmp = motor.coulombNm / motor.constant / 0.7
  const wantedAmp = Math.max(8 * noLoadAmp, stallAmp * (0.25 + uniform()))
  const limitAmp = Number(Math.min(30, Math.max(0.5, wantedAmp)).toPrecision(3))
  return {
    name: `${powerWatt.toPrecision(2)} W at ${volt} V, limit ${limitAmp} A`,
    motor,
    volt,
    limitAmp,
    seed: n,
  }
})

describe('a whole pass keeps every limit and comes to its end', () => {
  test.each(MOTORS)('$name', ({ motor, volt, limitAmp, seed }) => {
    const bench = standInBench(motor, { ...suitedRig(motor, volt), ratesHz: [2000] }, seed)
    // Half of its copper is in the winding of this motor.
    const massGram = Math.max(1, (500 * motor.windingJPerKelvin) / leastByMassJPerKelvin(1))
    const answers = { 'motor-current': limitAmp, 'motor-mass': null, 'motor-mass-again': massGram }
    const walk = walkSequence({ bench, answers })
    expect(walk.state.pause?.text ?? walk.finished).toBe('complete')
    expectSafe(walk, limitAmp, volt)
    expect(HOTTEST_OVER_MEAN * bench.hottestMeanKelvin).toBeLessThan(30)
    expect(walk.drivenSec).toBeLessThan(60)
    // What was learned on the way is true: a planner that guesses would pass the limits some day.
    expect(leastJPerKelvin(walk.state.known.heat)).toBeLessThan(1.1 * motor.windingJPerKelvin)
    expectRelative(walk.state.known.line!.resistanceOhm, motor.resistanceOhm, 0.2)
  })
})

describe('practice motors, with all that makes them harder than the textbook', () => {
  test.each(['peppercorn-3', 'ploughman-24'])('%s', name => {
    const bench = practiceWalkBench(practiceMotor(name), 3)
    const walk = walkSequence({ bench })
    expect(walk.state.pause?.text ?? walk.finished).toBe('complete')
    expectSafe(walk, bench.rig.limits.currentAmp, bench.rig.limits.driveVolt)
    const { speedRadPerSec } = bench.rig.limits
    for (const { run, peakRadPerSec } of walk.runs) {
      expect(peakRadPerSec, run.title).toBeLessThan(speedRadPerSec!)
    }
    expect(walk.drivenSec).toBeLessThan(45)
    expect(walk.runs.length).toBeLessThan(45)
  })
})

test('a speed limit far below what the voltage could reach is approached from below and kept', () => {
  const own = practiceMotor('fennimore-24')
  const bench = practiceWalkBench(own, 5)
  const rpm = 1500
  const walk = walkSequence({ bench, answers: { 'motor-speed': rpm } })
  expect(walk.finished).toBe('complete')
  const limit = (rpm * 2 * Math.PI) / 60
  const fastest = Math.max(...walk.runs.map(run => run.peakRadPerSec))
  expect(fastest).toBeLessThan(limit)
  expect(fastest).toBeGreaterThan(0.7 * limit)
})
