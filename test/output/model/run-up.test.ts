import { describe, expect, test } from 'vitest'
import type { FitDocument, ParameterResult } from '../../../src/contract/fit-document.ts'
import { simulateRun } from '../../../src/identify/simulate-run.ts'
import { modelicaPackage } from '../../../src/output/model/modelica-package.ts'
import { motorModelOf } from '../../../src/output/model/motor-model.ts'
import { spiceSubcircuit } from '../../../src/output/model/spice-subcircuit.ts'
import { BRIDGE } from '../../../src/records/recording.ts'
import { PARAMETER_FACTS, type ParameterName } from '../../../src/records/parameter.ts'
import { type TestRun, UNKNOWN_CONDITIONS } from '../../../src/records/test-run.ts'
import { integrate, readModelica, readNetlist } from '../../support/equation-text.ts'
import { fitOf } from '../../support/fit-documents.ts'
import { hasNgspice, runNgspice } from '../../support/ngspice.ts'

/**
 * The languages: T. Quarles et al., SPICE3 User's Manual (UC Berkeley), subcircuits 2.7 and non-linear
 * sources 3.2.2.4 (from memory), with the parameters of later SPICE; Modelica Language Specification 3.6,
 * 4.4 components, 8.3 equations, 3.7.4 der (from memory).
 */
const result = (name: ParameterName, value: number | null): ParameterResult => ({
  unit: PARAMETER_FACTS[name].unit,
  status: value === null ? 'not-in-model' : 'determined',
  value,
  standardUncertainty: value === null ? null : Math.abs(value) / 200,
  lower95: null,
  upper95: null,
})

interface Case {
  readonly name: string
  readonly volt: number
  readonly values: Readonly<Partial<Record<ParameterName, number>>>
  readonly model: NonNullable<FitDocument['model']>
}

/** Motors of our own: a small gear-motor's, a fan's, and one that warms itself fast. */
const CASES: readonly Case[] = [
  {
    name: 'plain: no drop, no air drag',
    volt: 12,
    values: {
      resistance: 2.3,
      inductance: 1.1e-3,
      backEmfConstant: 0.0147,
      torqueConstant: 0.0147,
      coulombTorque: 1.6e-3,
      viscousCoefficient: 6e-7,
      inertia: 1.3e-6,
    },
    model: { brushKneeAmp: 0, heatingPerA2s: 0, coolingPerSec: 0 },
  },
  {
    name: 'brush drop at once, backwards, offset',
    volt: -24,
    values: {
      resistance: 0.9,
      inductance: 4e-4,
      backEmfConstant: 0.051,
      torqueConstant: 0.0502,
      brushDrop: 1.1,
      coulombTorque: 0.021,
      staticTorque: 0.027,
      viscousCoefficient: 9e-6,
      windageCoefficient: 4e-8,
      offsetTorque: 1.1e-3,
      inertia: 2.8e-5,
    },
    model: { brushKneeAmp: 0, heatingPerA2s: 0, coolingPerSec: 0 },
  },
  {
    name: 'drop that builds up, heating winding',
    volt: 24,
    values: {
      resistance: 5.47,
      inductance: 2.6e-3,
      backEmfConstant: 0.0343,
      torqueConstant: 0.0343,
      brushDrop: 0.9,
      coulombTorque: 2.2e-3,
      staticTorque: 3.1e-3,
      viscousCoefficient: 1.3e-6,
      windageCoefficient: 3e-9,
      inertia: 3.6e-6,
    },
    model: { brushKneeAmp: 0.08, heatingPerA2s: 0.05, coolingPerSec: 0.2 },
  },
]

/** Between two samples: neither holds the edge. */
const STEP_AT_SEC = 0.00495
const RATE_HZ = 10_000

function prepared({ name, volt, values, model }: Case) {
  const parameters = Object.fromEntries(
    (Object.keys(PARAMETER_FACTS) as ParameterName[]).map(one => [
      one,
      result(one, values[one] ?? null),
    ]),
  ) as FitDocument['parameters']
  const fit = fitOf('Füchslein 3/b', 1, 1, { parameters, model })
  const tau =
    (values.inertia! * values.resistance!) / (values.backEmfConstant! * values.torqueConstant!)
  const count = Math.ceil((STEP_AT_SEC + 5 * tau) * RATE_HZ)
  const timeSec = Float64Array.from({ length: count }, (_, i) => i / RATE_HZ)
  const nought = new Float64Array(count)
  const run = (current: Float64Array): TestRun => ({
    id: 1,
    kind: 'run-up',
    recording: {
      sampleCount: count,
      timeSec,
      columns: {
        voltage: timeSec.map(sec => (sec > STEP_AT_SEC ? volt : 0)),
        current,
        speed: nought,
      },
      bridge: new Uint8Array(count).fill(BRIDGE.drive),
      edges: [{ timeSec: STEP_AT_SEC, state: 'drive', setVolt: volt }],
      traits: {},
    },
    conditions: { ...UNKNOWN_CONDITIONS, windingCelsius: 20 },
  })
  const cold = simulateRun(fit, run(nought))
  if (!cold.ok) throw new Error(`${name}: ${cold.error}`)
  // Heat follows from the current that was measured: give it the one that would flow.
  const warm = simulateRun(fit, run(cold.value.current!))
  if (!warm.ok) throw new Error(`${name}: ${warm.error}`)
  const exported = motorModelOf(fit, {
    fit: 4,
    tested: [
      { quantity: 'voltage', unit: 'V', lowest: Math.min(0, volt), highest: Math.max(0, volt) },
    ],
  })
  if (!exported.ok) throw new Error(exported.error)
  return { fitted: warm.value, model: exported.value, timeSec, volt }
}

/** Largest difference over the largest value, from the third sample after the step. */
function worst(got: (sec: number) => number, want: Float64Array, timeSec: Float64Array): number {
  let [most, top] = [0, 0]
  for (const [i, value] of want.entries()) {
    if (timeSec[i]! < STEP_AT_SEC + 3 / RATE_HZ) continue
    most = Math.max(most, Math.abs(got(timeSec[i]!) - value))
    top = Math.max(top, Math.abs(value))
  }
  return most / top
}

const interpolated = (x: Float64Array, y: Float64Array) => {
  let at = 0
  return (sec: number) => {
    while (at < x.length - 2 && x[at + 1]! < sec) at++
    const share = (sec - x[at]!) / (x[at + 1]! - x[at]!)
    return y[at]! + share * (y[at + 1]! - y[at]!)
  }
}

describe.each(CASES)('run-up from rest, $name', motor => {
  const { fitted, model, timeSec, volt } = prepared(motor)
  const stepped = (sec: number) => (sec > STEP_AT_SEC ? volt : 0)
  const agrees = (x: Float64Array, current: Float64Array, speed: Float64Array) => {
    expect(worst(interpolated(x, speed), fitted.speed!, timeSec)).toBeLessThan(1e-3)
    expect(worst(interpolated(x, current), fitted.current!, timeSec)).toBeLessThan(2e-3)
    // It did run up, and the current fell on the way.
    expect(Math.abs(speed.at(-1)!)).toBeGreaterThan(
      0.5 * Math.abs(volt / motor.values.backEmfConstant!),
    )
    expect(Math.max(...current.map(Math.abs))).toBeGreaterThan(2 * Math.abs(current.at(-1)!))
  }

  test('the equations of the Modelica text give the fitted run-up', () => {
    const { current, speed } = integrate(
      readModelica(modelicaPackage(model)),
      stepped,
      timeSec,
      1e-5,
    )
    agrees(timeSec, current, speed)
  })

  test('the elements of the netlist give the fitted run-up', () => {
    const { current, speed } = integrate(
      readNetlist(spiceSubcircuit(model)),
      stepped,
      timeSec,
      1e-5,
    )
    agrees(timeSec, current, speed)
  })

  test.runIf(hasNgspice)('ngspice gives the fitted run-up', () => {
    const end = timeSec.at(-1)!
    const [sec, speed, supply] = runNgspice(
      [
        spiceSubcircuit(model),
        `Vsupply p 0 PWL(0 0 ${STEP_AT_SEC} 0 ${STEP_AT_SEC + 1e-7} ${volt})`,
        'Xm p 0 w motor_fuchslein_3_b',
        '.options reltol=1e-5',
        `.tran ${1 / RATE_HZ} ${end} 0 5e-5 uic`,
      ].join('\n'),
      ['V(w)', 'I(Vsupply)'],
    )
    agrees(
      sec!,
      supply!.map(amp => -amp),
      speed!,
    )
  })

  test.runIf(hasNgspice)(
    'ngspice: a load torque drawn from the shaft slows it by R/k² times the torque',
    () => {
      const { resistance, backEmfConstant, torqueConstant } = motor.values
      const torque = 0.1 * Math.abs(torqueConstant! * (volt / resistance!)) * Math.sign(volt)
      const free = (load: number) => {
        const [, speed] = runNgspice(
          [
            spiceSubcircuit({ ...model, heatingPerA2s: 0 }),
            `Vsupply p 0 ${volt}`,
            `Iload w 0 ${load}`,
            'Xm p 0 w motor_fuchslein_3_b',
            `.tran 1e-3 ${timeSec.at(-1)! * 1.5} 0 1e-3 uic`,
          ].join('\n'),
          ['V(w)'],
        )
        return speed!.at(-1)!
      }
      const fall = Math.abs(free(0) - free(torque))
      const slope = resistance! / (backEmfConstant! * torqueConstant!)
      // Friction that grows with speed, and the drop, take a share of it.
      expect(fall).toBeGreaterThan(0.85 * slope * Math.abs(torque))
      expect(fall).toBeLessThan(1.15 * slope * Math.abs(torque))
    },
  )
})
