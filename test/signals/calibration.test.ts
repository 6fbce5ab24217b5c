import { expect, test } from 'vitest'
import type { Channel } from '../../src/records/channel.ts'
import { PLAIN_TRAITS } from '../../src/records/recording.ts'
import { calibrate, calibratedTraits, countsToSi } from '../../src/signals/calibration.ts'
import { expectRelative } from '../support/expect-relative.ts'

const shunt: Channel = {
  name: 'i',
  quantity: 'current',
  scale: 0.005,
  offset: -10,
  traits: {
    ...PLAIN_TRAITS,
    noise: 0.02,
    resolution: 0.005,
    rangeLow: -10,
    rangeHigh: 10,
    gainUncertainty: 0.01,
    zeroUncertainty: 0.03,
  },
}

const calibration = { gain: 1.02, zero: 0.15, gainUncertainty: 0.001, zeroUncertainty: 0.004 }

const readings = [
  { counts: 2000, given: null, expected: 0, source: '0.005 × 2000 − 10' },
  { counts: 3000, given: null, expected: 5, source: '0.005 × 3000 − 10' },
  { counts: 2030, given: calibration, expected: 0, source: '1.02 × (0.15 − 0.15)' },
  { counts: 3000, given: calibration, expected: 4.947, source: '1.02 × (5 − 0.15)' },
  {
    counts: 3000,
    given: { ...calibration, gain: -1 },
    expected: -4.85,
    source: 'a shunt connected the wrong way round: −(5 − 0.15)',
  },
]

test.each(readings)('$counts counts are $expected A ($source)', ({ counts, given, expected }) => {
  const value = new Float64Array(1)
  calibrate(Int16Array.of(counts), 0, 1, countsToSi(shunt, given), value)
  expect(value[0]).toBeCloseTo(expected, 12)
})

test('writes a stretch of counts where it is told', () => {
  const into = new Float64Array(4).fill(-1)
  calibrate(Int16Array.of(1, 2, 3), 1, 3, { factor: 10, offset: 1 }, into, 1)
  expect([...into]).toEqual([-1, 21, 31, -1])
})

test('takes the traits through the gain and the uncertainties from the calibration', () => {
  const traits = calibratedTraits(shunt, calibration)
  expectRelative(traits.noise!, 0.0204, 1e-12)
  expectRelative(traits.resolution!, 0.0051, 1e-12)
  expectRelative(traits.rangeLow!, -10.353, 1e-12)
  expectRelative(traits.rangeHigh!, 10.047, 1e-12)
  expect(traits.gainUncertainty).toBe(0.001)
  expectRelative(traits.zeroUncertainty, 0.00408, 1e-12)
})

test('keeps the declared uncertainties where nothing was calibrated', () => {
  expect(calibratedTraits(shunt, null)).toEqual(shunt.traits)
})

test('exchanges the ends of the range when the gain is negative', () => {
  const traits = calibratedTraits(shunt, { ...calibration, gain: -1, zero: 0 })
  expect([traits.rangeLow, traits.rangeHigh]).toEqual([-10, 10])
  expect(traits.noise).toBe(0.02)
})

test('takes one count as the step of a channel that declares none', () => {
  const silent = { ...shunt, traits: PLAIN_TRAITS }
  expectRelative(calibratedTraits(silent, calibration).resolution!, 0.0051, 1e-12)
})
