import { expect, test } from 'vitest'
import { fitCoast } from '../../src/analysis/coast-curve.ts'
import { momentumData } from '../../src/analysis/momentum-data.ts'
import { practiceRun } from '../../src/practice-rig/practice-run.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import { readSignals } from '../../src/signals/run-signals.ts'
import { practiceMotor } from '../support/practice.ts'

const whole = practiceRun(practiceMotor('hazelnut-24'), 'coast-down', 4, { rateHz: 5000 })

/** The same with every 41st reading of the speed lost. */
function gapped(run: TestRun): TestRun {
  const speed = run.recording.columns.speed!.map((value, i) => (i % 41 === 7 ? Number.NaN : value))
  const columns = { ...run.recording.columns, speed }
  return { ...run, recording: { ...run.recording, columns } }
}

const coastOf = (run: TestRun) => {
  const data = momentumData(readSignals(run), ['coast'])!
  return { coasts: data.stretches.length, fit: fitCoast(data)! }
}

test('a coast cut into dozens by lost readings slows down as the whole one does', () => {
  const one = coastOf(whole)
  const many = coastOf(gapped(whole))
  expect(one.coasts).toBe(1)
  expect(many.coasts).toBeGreaterThan(12)
  const middle = one.fit.startSpeeds[0]! / 2
  const slowing = ({ deceleration: [a, b, c] }: typeof one.fit) =>
    a! + Math.abs(middle) * (b! + Math.abs(middle) * c!)
  expect(Math.abs(slowing(many.fit) / slowing(one.fit) - 1)).toBeLessThan(0.01)
})
