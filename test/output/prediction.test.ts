import { describe, expect, test } from 'vitest'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import { predict } from '../../src/output/prediction.ts'
import { predictionText } from '../../src/output/prediction-text.ts'
import { PARAMETERS } from '../../src/records/parameter.ts'
import { expectRelative } from '../support/expect-relative.ts'

/** A fit of a motor without friction or brush drop that turns at `noLoadRpm` and stalls at `stallNm` on 12 V. */
function idealFit(noLoadRpm: number, stallNm: number, relativeK = 0): FitDocument {
  const k = 12 / ((noLoadRpm * 2 * Math.PI) / 60)
  const resistance = (k * 12) / stallNm
  const value = { resistance, backEmfConstant: k, torqueConstant: k } as Record<string, number>
  const parameters = Object.fromEntries(
    PARAMETERS.map(name => [
      name,
      name in value
        ? {
            unit: '',
            status: 'determined',
            value: value[name]!,
            standardUncertainty: name === 'resistance' ? 0 : relativeK * k,
            lower95: null,
            upper95: null,
          }
        : {
            unit: '',
            status: 'not-in-model',
            value: null,
            standardUncertainty: null,
            lower95: null,
            upper95: null,
          },
    ]),
  ) as FitDocument['parameters']
  return {
    schema: 'fit/1',
    motor: 'ideal',
    runs: [],
    referenceTemperatureCelsius: 20,
    testTemperatureCelsius: 20,
    parameters,
    correlation: {
      names: ['backEmfConstant', 'torqueConstant'],
      matrix: [
        [1, 1],
        [1, 1],
      ],
    },
    budget: {},
    derived: {},
    separate: {},
    goodness: { degreesOfFreedom: 0, reducedChiSquare: null, lackOfFit: '' },
    termination: '',
    warnings: [],
  }
}

function predicted(
  fit: FitDocument,
  loadTorqueNm: number | null,
  voltageVolt = 12,
  windingCelsius = 20,
) {
  const prediction = predict(fit, { voltageVolt, windingCelsius, loadTorqueNm })
  if (!prediction.ok) throw new Error(prediction.error)
  return prediction.value
}

describe('a straight torque-speed line', () => {
  test.each([
    // MIT 2.007 course pages on D.C. motors: half the speed at half the torque, and the greatest power there.
    [600, 0.325, 300, 0.1625, 5.1051],
    [3750, 0.0722, 1875, 0.0361, 7.0882],
    [92, 1.6, 46, 0.8, 3.8537],
  ])(
    '%d rpm and %d N·m: at half of both %d rpm, %d N·m and %d W',
    (rpm, stallNm, halfRpm, halfNm, watt) => {
      const { noLoad, stall, operatingPoint, motoring } = predicted(idealFit(rpm, stallNm), halfNm)
      expectRelative((noLoad.speed!.value * 60) / (2 * Math.PI), rpm, 1e-9)
      expectRelative(stall.torque.value, stallNm, 1e-9)
      expectRelative((operatingPoint!.speed!.value * 60) / (2 * Math.PI), halfRpm, 1e-9)
      expectRelative(operatingPoint!.mechanicalPower!.value, watt, 1e-4)
      expect(Math.max(...motoring.map(p => p.mechanicalPower!.value))).toBeLessThanOrEqual(
        operatingPoint!.mechanicalPower!.value * (1 + 1e-9),
      )
    },
  )

  test('no-load speed carries the relative uncertainty of k, and a dragged-round load makes the machine generate', () => {
    const { noLoad, driven } = predicted(idealFit(600, 0.325, 0.01), null)
    expectRelative(noLoad.speed!.standardUncertainty / noLoad.speed!.value, 0.01, 1e-3)
    expect(driven[0]!.speed!.value).toBeGreaterThan(noLoad.speed!.value)
    expect(driven[0]!.current!.value).toBeLessThan(0)
  })

  test('a hot winding stalls at less current by the ratio of its resistance', () => {
    const fit = idealFit(600, 0.325)
    const cold = predicted(fit, null)
    const hot = predicted(fit, null, 12, 100)
    // R(T) of copper: (234.5 + 20)/(234.5 + 100), IEEE 112.
    expectRelative(hot.stall.current.value / cold.stall.current.value, 254.5 / 334.5, 1e-12)
  })

  test('reversed voltage mirrors the curves', () => {
    const { motoring, reversed } = predicted(idealFit(600, 0.325), null)
    expectRelative(reversed.motoring[10]!.speed!.value, -motoring[10]!.speed!.value, 1e-9)
  })
})

test('a load that the motor does not carry, and a fit that lacks the resistance, are said', () => {
  const heavy = predict(idealFit(600, 0.325), {
    voltageVolt: 12,
    windingCelsius: 20,
    loadTorqueNm: 0.4,
  })
  expect(heavy.ok ? '' : heavy.error).toContain('at or above the stall torque of 0.325')
  const fit = idealFit(600, 0.325)
  const without = {
    ...fit,
    parameters: {
      ...fit.parameters,
      resistance: { ...fit.parameters.resistance, value: null, reason: 'lock the shaft' },
    },
  }
  const lacking = predict(without, { voltageVolt: 12, windingCelsius: 20, loadTorqueNm: null })
  expect(lacking.ok ? '' : lacking.error).toContain(
    'winding resistance not determined (lock the shaft)',
  )
})

test('the terminal sees speed in both units, rounded to what is known', () => {
  expect(predictionText(predicted(idealFit(600, 0.325, 0.01), 0.1))).toMatch(
    /no load .* 62\.83\(63\)\srad\/s .* 600\.0\(6\.0\)\srpm/,
  )
})

test('a viscous friction that was not determined still slows the motor as it did in the fit, and is said', () => {
  const fit = idealFit(600, 0.325)
  const viscous = { ...fit.parameters.viscousCoefficient, status: 'not-determined' as const }
  const beside = { viscousCoefficient: { value: 2e-4, standardUncertainty: 1.5e-4 } }
  const model = { brushKneeAmp: 0, heatingPerA2s: 0, coolingPerSec: 0, beside }
  const open = {
    ...fit,
    parameters: { ...fit.parameters, viscousCoefficient: viscous },
    model,
  }
  const { noLoad, assumptions } = predicted(open, null)
  // k (V - k w)/R = B w, so w = k V/(k² + B R); in B its slope is -w R/(k² + B R).
  const k = fit.parameters.backEmfConstant.value!
  const ohm = fit.parameters.resistance.value!
  const speed = (k * 12) / (k * k + 2e-4 * ohm)
  expectRelative(noLoad.speed!.value, speed, 1e-9)
  expectRelative(
    noLoad.speed!.standardUncertainty,
    (1.5e-4 * speed * ohm) / (k * k + 2e-4 * ohm),
    1e-3,
  )
  expect(assumptions).toHaveLength(1)
  expect(predictionText(predicted(open, null))).toContain(
    'note: Viscous friction coefficient not determined: taken as',
  )
})
