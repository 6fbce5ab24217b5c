import { expect, test } from 'vitest'
import { identifyMotor } from '../../src/identify/identify-motor.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { textbookRuns, typicalMotor } from '../support/simulate-motor.ts'

const motor = typicalMotor(20, 12)
const noise = { volt: 6e-3, amp: 4e-3, radPerSec: 0 }
const COUNTS = 500

/** As a counter of an encoder shows the shaft, without a word on its counts. */
function byCounts(run: TestRun): TestRun {
  const { speed, ...columns } = run.recording.columns
  if (!speed || run.kind === 'locked-rotor') return run
  const { timeSec } = run.recording
  const position = new Float64Array(speed.length)
  let angle = 0
  for (let k = 1; k < speed.length; k++) {
    angle += ((speed[k]! + speed[k - 1]!) / 2) * (timeSec![k]! - timeSec![k - 1]!)
    position[k] = (Math.floor((angle * COUNTS) / (2 * Math.PI)) * 2 * Math.PI) / COUNTS
  }
  return { ...run, recording: { ...run.recording, columns: { ...columns, position } } }
}

test.each([3000, 8000])('500 counts a turn at %i Hz stand in for speed', rate => {
  const runs = textbookRuns(motor, 12, rate, { noise }).map(byCounts)
  const fit = identifyMotor(
    'by counts',
    runs,
    { fixed: {}, freed: [], referenceTemperatureCelsius: 20 },
    () => true,
  )
  if (!fit.ok) throw new Error(fit.error.text)
  const { backEmfConstant, coulombTorque, inertia, resistance } = fit.value.parameters
  expect(backEmfConstant.status).toBe('determined')
  expectRelative(backEmfConstant.value!, motor.k, 0.002)
  expectRelative(resistance.value!, motor.ohm, 0.01)
  expectRelative(inertia.value!, motor.inertia, 0.02)
  expectRelative(coulombTorque.value!, motor.coulomb, 0.05)
})
