import { expect, test } from 'vitest'
import { readingStep } from '../../src/signals/reading-step.ts'

const PER_MINUTE = (2 * Math.PI) / 60
const cases: [what: string, values: number[], step: number][] = [
  ['volts to two places', [2.01, 2.99, 5, -4.99], 0.01],
  ['milliamperes', [0.158, 0.402, -0.281], 0.001],
  ['zeros at the end that nobody wrote', [1, 2, -1.5], 0.01],
  ['tens of turns a minute', [1500, 2690, -6330].map(rpm => rpm * PER_MINUTE), 10 * PER_MINUTE],
  ['gaps', [0.12, Number.NaN, 0.5], 0.001],
  ['a column of nothing', [0, 0], 0],
  ['what was never rounded', [Math.PI, Math.E], 0],
]
test.each(cases)('%s', (_, values, step) => {
  expect(readingStep(Float64Array.from(values))).toBeCloseTo(step, 12)
})
