import { describe, expect, test } from 'vitest'
import type { DriveStep } from '../../src/procedure/test-plan.ts'
import { drivenUnder } from '../../src/procedure/thermostat.ts'
import {
  newThermometer,
  THERMOMETER_SETTLE_SEC,
  thermometerPulseStarts,
  thermometerSample,
  type WindingThermometer,
} from '../../src/procedure/winding-thermometer.ts'
import { expectRelative } from '../support/expect-relative.ts'

const DROP_VOLT = 0.2
const COLD_OHM = 1.5
const GUARD = { startCelsius: 20 }
const LEVELS = { levelVolts: [0.7, 2], hottestCelsius: 130 }
/** Of the whole; the rest, brushes and leads, stays cold. */
const COPPER_SHARE = 0.93

/** One pulse; the winding's temperature over the time since its start. */
function pulse(
  state: WindingThermometer,
  fromSec: number,
  volt: number,
  celsius: (sec: number) => number,
  extraOhm = 0,
): number {
  thermometerPulseStarts(state, fromSec)
  let rise = Number.NaN
  for (let n = 1; n <= 250; n++) {
    const sec = n / 500
    // Copper: R(T) = R_20 (234.5 + T)/254.5.
    const copper = (COPPER_SHARE * COLD_OHM * (234.5 + celsius(sec))) / 254.5
    const ohm = copper + (1 - COPPER_SHARE) * COLD_OHM + extraOhm
    // While the contact settles it is worth nothing.
    const seen = sec < THERMOMETER_SETTLE_SEC ? 2 * ohm : ohm
    const amp = (Math.sign(volt) * (Math.abs(volt) - DROP_VOLT)) / seen
    rise = thermometerSample(state, GUARD, LEVELS, fromSec + sec, volt, amp)
  }
  return rise
}

describe('the winding as thermometer', () => {
  test('each level against itself: the brush drop does not matter, nor the direction', () => {
    const state = newThermometer()
    expect(pulse(state, 0, 0.7, () => 20)).toBeCloseTo(0, 9)
    expect(pulse(state, 1, -2, () => 20)).toBeCloseTo(0, 9)
    expectRelative(
      pulse(state, 2, -2, () => 60),
      40,
      1e-9,
    )
    expectRelative(
      pulse(state, 3, 0.7, () => 50),
      30,
      1e-9,
    )
  })

  test('it cools: what was does not add up', () => {
    const state = newThermometer()
    pulse(state, 0, 2, () => 20)
    for (let n = 1; n <= 20; n++) pulse(state, n, 2, () => 40)
    expectRelative(
      pulse(state, 30, 2, () => 25),
      5,
      1e-9,
    )
  })

  test('a contact that got better since is taken for the cold one: warmer, never cooler, than it is', () => {
    const state = newThermometer()
    pulse(state, 0, 2, () => 20, 0.1)
    pulse(state, 1, 2, () => 20)
    expectRelative(
      pulse(state, 2, 2, () => 60),
      40,
      1e-9,
    )
  })

  test('how fast it warms, from the pulse that heats; one that only reads changes nothing of it', () => {
    const state = newThermometer()
    pulse(state, 0, 0.7, () => 20)
    pulse(state, 1, 2, sec => 20 + 8 * sec)
    expectRelative(state.kelvinPerSec, 8, 0.01)
    pulse(state, 2, 0.7, () => 24)
    expectRelative(state.kelvinPerSec, 8, 0.01)
  })

  test('no current is no winding: the rise is beyond all limits', () => {
    const state = newThermometer()
    pulse(state, 0, 2, () => 20)
    thermometerPulseStarts(state, 5)
    let rise = 0
    for (let n = 1; n <= 250; n++) rise = thermometerSample(state, GUARD, LEVELS, 5 + n / 500, 2, 0)
    expect(rise).toBeGreaterThan(1000)
  })
})

describe('the thermostat', () => {
  const step: DriveStep = {
    bridge: 'drive',
    setVolt: 2,
    durationSec: 1.8,
    currentLimitAmp: 3,
    purpose: 'heating',
    thermostat: { meanRiseKelvin: 40, readVolt: 0.7, readSec: 0.24 },
  }
  test.each([
    [
      { meanRiseKelvin: 10, kelvinPerSec: 0 },
      { setVolt: 2, durationSec: 1.8 },
    ],
    [
      { meanRiseKelvin: 10, kelvinPerSec: 5 },
      { setVolt: 2, durationSec: 1.8 },
    ],
    [
      { meanRiseKelvin: 35, kelvinPerSec: 5 },
      { setVolt: 2, durationSec: 1 },
    ],
    [
      { meanRiseKelvin: 39, kelvinPerSec: 5 },
      { setVolt: 0.7, durationSec: 0.24 },
    ],
    [
      { meanRiseKelvin: 40, kelvinPerSec: 0 },
      { setVolt: 0.7, durationSec: 0.24 },
    ],
    [
      { meanRiseKelvin: 70, kelvinPerSec: 5 },
      { setVolt: 0.7, durationSec: 0.24 },
    ],
  ])('at %o drives %o', (winding, driven) => {
    expect(drivenUnder(step, winding)).toEqual(driven)
  })

  test('a step without one is driven as planned, however warm', () => {
    const { thermostat: _, ...plain } = step
    expect(drivenUnder(plain, { meanRiseKelvin: 500, kelvinPerSec: 9 })).toEqual({
      setVolt: 2,
      durationSec: 1.8,
    })
  })
})
