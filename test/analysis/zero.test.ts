import { expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { analyseZero } from '../../src/analysis/zero.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { asRun } from '../support/simulate-motor.ts'

const normal = seededNormal(seededUniform(2))
const length = 4000
const column = (mean: number, sigma: number) =>
  Float64Array.from({ length }, () => mean + sigma * normal())
const zeroRun = (columns: Record<string, Float64Array>) =>
  asRun(1, 'zero', {
    sampleCount: length,
    timeSec: Float64Array.from({ length }, (_, n) => n / 1000),
    columns,
    bridge: null,
    edges: [],
    traits: {},
  })

test('gives offset and noise of each channel', () => {
  const result = analyseZero(
    zeroRun({ voltage: column(0.02, 0.004), current: column(-0.01, 0.002) }),
  )
  if (!result.ok) throw new Error(result.error.text)
  expectRelative(result.value.offsets.voltage!, 0.02, 0.02)
  expectRelative(result.value.noise.current!, 0.002, 0.05)
  expect(result.value.values.voltageZero!.standardUncertainty).toBeLessThan(2e-4)
})

test('a temperature has no zero', () => {
  const result = analyseZero(zeroRun({ temperature: column(21, 0.1) }))
  expect(result.ok).toBe(false)
})

test('a jump is named', () => {
  const voltage = column(0, 0.001)
  voltage[17] = 0.5
  const result = analyseZero(zeroRun({ voltage }))
  if (!result.ok) throw new Error(result.error.text)
  expect(result.value.warnings.map(w => w.code)).toEqual(['zero-not-quiet'])
})
