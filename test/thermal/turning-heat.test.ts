import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { type TestRun, UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import { identifyHeat } from '../../src/thermal/heat-report.ts'
import { insulationClass } from '../../src/thermal/insulation.ts'
import { expectRelative } from '../support/expect-relative.ts'

const TRUTH = { r1: 5, r2: 8, cw: 10, ch: 80, ohm: 4, k: 0.03, drop: 0.6 }
const AMP = 1.1
const SPEED = 300
const PULSE_AMP = 0.5

/**
 * A motor that is heated while it turns against its own friction, stopped for a pulse now and then: integrated here by
 * itself in steps of 0.1 s. The magnets' weakening is left out; R by copper from 20 degC.
 */
function turningRun(): TestRun {
  const normal = seededNormal(seededUniform(9))
  const rows: number[][] = []
  let [w, h] = [20, 20]
  const dt = 0.1
  const step = (amp: number, speed: number) => {
    const ohm = (TRUTH.ohm * (234.5 + w)) / 254.5
    const friction = TRUTH.k * amp * speed
    const flow = (w - h) / TRUTH.r1
    w += ((amp * amp * ohm - flow) / TRUTH.cw) * dt
    h += ((TRUTH.drop * amp + friction + flow - (h - 20) / TRUTH.r2) / TRUTH.ch) * dt
    const flows = amp > 0 ? 1 : 0
    const volt = amp * ohm + flows * TRUTH.drop + TRUTH.k * speed
    rows.push([
      rows.length * dt,
      volt + 1e-3 * normal(),
      amp + 2e-4 * normal(),
      speed + 0.1 * normal(),
    ])
  }
  const hold = (sec: number, amp: number, speed: number) => {
    for (let n = 0; n < sec / dt; n++) step(amp, speed)
  }
  hold(1, 0, 0)
  hold(0.4, PULSE_AMP, 0)
  hold(1, 0, 0)
  for (let n = 0; n < 60; n++) {
    hold(28, AMP, SPEED)
    hold(0.4, PULSE_AMP, 0)
  }
  for (let n = 0; n < 70; n++) {
    hold(n < 20 ? 5 : 30, 0, 0)
    hold(0.4, PULSE_AMP, 0)
  }
  const column = (c: number) => Float64Array.from(rows, row => row[c]!)
  return {
    id: 1,
    kind: 'heating',
    recording: {
      sampleCount: rows.length,
      timeSec: column(0),
      columns: { voltage: column(1), current: column(2), speed: column(3) },
      bridge: null,
      edges: [],
      traits: {},
    },
    conditions: { ...UNKNOWN_CONDITIONS, ambientCelsius: 20, windingCelsius: 20 },
  }
}

describe('a motor heated while it turns', () => {
  const insulation = insulationClass('F')
  const order = {
    motor: 'm',
    insulation: insulation.ok ? insulation.value : (undefined as never),
    ambientCelsius: 40,
    frictionWatt: 0,
    stall: null,
    brushDrop: { value: TRUTH.drop, standardUncertainty: 0.02, kneeAmp: 0 },
    contactOhm: 0,
    torqueConstant: null,
    dragNm: 0,
    declaredMagnets: null,
    warmConstants: [],
  }
  const run = turningRun()

  test('is fitted with friction in the housing and copper loss in the winding', () => {
    const backEmfConstant = {
      value: TRUTH.k,
      standardUncertainty: 1e-5,
      degreesOfFreedom: 50,
      magnetCelsius: 20,
    }
    const found = identifyHeat(run, { ...order, backEmfConstant })
    if (!found.ok) throw new Error(found.error)
    const { numbers } = found.value
    expectRelative(numbers.windingToHousing.value!, TRUTH.r1, 0.06)
    expectRelative(numbers.housingToAmbient.value!, TRUTH.r2, 0.04)
    expectRelative(numbers.windingHeat.value!, TRUTH.cw, 0.08)
    expectRelative(numbers.housingHeat.value!, TRUTH.ch, 0.06)
  })

  test('without k the friction cannot be told from copper loss: identify first', () => {
    const found = identifyHeat(run, { ...order, backEmfConstant: null })
    expect(found.ok ? '' : found.error).toContain('identify the motor first')
  })
})
