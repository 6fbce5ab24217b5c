import { expect, test } from 'vitest'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import { modelPoint } from '../../src/identify/model-point.ts'
import { PARAMETERS } from '../../src/records/parameter.ts'

test('what the others were found beside moves the simulated motor; a result goes before it', () => {
  const told = { resistance: 2, backEmfConstant: 0.02, torqueConstant: 0.02, inertia: 1e-6 }
  const parameters = Object.fromEntries(
    PARAMETERS.map(name => [name, { value: (told as Record<string, number>)[name] ?? null }]),
  )
  const beside = {
    viscousCoefficient: { value: 3e-6, standardUncertainty: 4e-6 },
    resistance: { value: 5, standardUncertainty: 1 },
  }
  const model = { brushKneeAmp: 0, heatingPerA2s: 0, coolingPerSec: 0, beside }
  const point = modelPoint({ parameters, model } as unknown as FitDocument)
  expect(point.viscousNmsPerRad).toBe(3e-6)
  expect(point.resistanceOhm).toBe(2)
  expect(point.windageNms2PerRad2).toBe(0)
})
