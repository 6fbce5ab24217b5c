import { describe, expect, test } from 'vitest'
import { meanSpeed } from '../../src/ripple/mean-speed.ts'
import { type RippleSettings, UNKNOWN_MOTOR } from '../../src/ripple/ripple-settings.ts'
import { trackRipple } from '../../src/ripple/track-ripple.ts'
import { readSignals } from '../../src/signals/run-signals.ts'
import { type RippleCase, rippleCase, withCurrentAlone } from '../support/ripple-case.ts'

/** The run of a case with its count of ripples known, and what else is said. */
const trackedWith = (c: RippleCase, known: Partial<RippleSettings>, run = c.run) =>
  trackRipple(readSignals(run), {
    ...UNKNOWN_MOTOR,
    ripplesPerTurn: c.ripplesPerTurn,
    polePairs: c.motor.winding.polePairs,
    ...known,
  })
/** To ten per cent. */
const resistanceOf = (c: RippleCase) => c.resistanceOhm * (0.9 + 0.002 * ((c.seed * 37) % 100))

/** Seeded cases that once were refused or told wrongly, one or two of each kind; the count of ripples alone is known. */
describe('the count of ripples alone', () => {
  const tracked = (c: RippleCase) => trackedWith(c, { resistanceOhm: resistanceOf(c) })

  test.each([
    [41, 'an even count, whose third multiple might be the commutation of uneven segments'],
    [388, 'the second line above the first at one level of speed'],
    [43, 'a far harmonic of the switching beside the commutation'],
    [253, 'a harmonic of the switching beside the commutation, 4.5 dB'],
    [37, 'multiples of the commutation folded at half the sample rate'],
    [105, 'the other level of speed a little off what the back-EMF says'],
    [630, 'a commutation slower than the switching, a third of its rate'],
    [661, 'the same, folded switching'],
    [651, 'a commutation that stands out beside the switching only over the whole stretch'],
    [61, 'switching that the averaging of the samples has left little of'],
    [175, 'a harmonic of the switching on the commutation, at one level of speed only'],
    [395, 'a harmonic of the switching on the commutation: other orders tell the speed'],
    [7, 'readings of single moments that beat slowly with the pulses'],
    [549, 'a level in which the speed still settles, many ripples a turn'],
    [504, 'a short stretch at a third speed'],
    [
      565,
      'a sharp ripple of three coils, whose third line might be the commutation of uneven ones',
    ],
    [1485, 'a commutation in the midst of the switching and its products'],
  ])(
    'case %d, %s: within 0.1 %',
    seed => {
      const c = rippleCase(seed)
      const found = tracked(c)
      if (!found.ok) throw new Error(found.error.text)
      const speed = meanSpeed(found.value, c.steadyFromSec, Number.POSITIVE_INFINITY)
      expect(speed!.ripples).toBeGreaterThan(0.7 * c.ripplePeriods)
      expect(Math.abs(speed!.radPerSec / c.speedRadPerSec - 1)).toBeLessThan(1e-3)
    },
    60_000,
  )

  test('case 798, many multiples of the commutation, which might be uneven segments of one two octaves above: two speeds are named, none is chosen', () => {
    expect(tracked(rippleCase(798))).toMatchObject({ ok: false, error: { code: 'ambiguous' } })
  }, 60_000)

  test.each([
    [711, 'products with the switching, whose lines suit other rates as well'],
    [523, 'three coils so uneven that a third of the commutation looks like it'],
  ])(
    'case %d, %s: two speeds are named, none is chosen',
    seed => {
      expect(tracked(rippleCase(seed))).toMatchObject({ ok: false, error: { code: 'ambiguous' } })
    },
    60_000,
  )

  test('case 1804, a commutation that the stretch hardly resolves from the switching: its pull is in the uncertainty', () => {
    const c = rippleCase(1804)
    const found = tracked(c)
    if (!found.ok) throw new Error(found.error.text)
    const speed = meanSpeed(found.value, c.steadyFromSec, Number.POSITIVE_INFINITY)!
    const error = speed.radPerSec - c.speedRadPerSec
    expect(Math.abs(error)).toBeLessThan(2.5 * speed.standardUncertainty)
    expect(speed.standardUncertainty / c.speedRadPerSec).toBeGreaterThan(1e-3)
  }, 60_000)
})

describe('with a rough back-EMF constant', () => {
  const tracked = (c: RippleCase) =>
    trackedWith(c, {
      resistanceOhm: resistanceOf(c),
      backEmfConstant: {
        value: 1.1 * c.backEmfConstantVsPerRad,
        standardUncertainty: 0.12 * c.backEmfConstantVsPerRad,
      },
    })

  test.each([
    [443, 'a harmonic of the switching two resolutions from the commutation'],
    [259, 'a higher line of the switching beside it'],
    [711, 'products with the switching, one of them above the commutation'],
    [288, 'harmonics that one duty lacks and another has'],
    [72, 'switching nearly in step with the samples'],
    [560, 'switching near two fifths of the sample rate, whose beats move the back-EMF'],
    [790, 'many small harmonics of the switching, each above the noise'],
    [438, 'a harmonic a quarter of a resolution from the commutation, told apart in the run-up'],
  ])(
    'case %d, %s: within 0.1 %',
    seed => {
      const c = rippleCase(seed)
      const found = tracked(c)
      if (!found.ok) throw new Error(found.error.text)
      const speed = meanSpeed(found.value, c.steadyFromSec, Number.POSITIVE_INFINITY)
      expect(speed!.ripples).toBeGreaterThan(0.7 * c.ripplePeriods)
      expect(Math.abs(speed!.radPerSec / c.speedRadPerSec - 1)).toBeLessThan(1e-3)
    },
    60_000,
  )

  test('switching nearly in step with half of the sample rate is named', () => {
    const c = rippleCase(162)
    expect(Math.abs(c.pwmHz! / c.rateHz - 0.5)).toBeLessThan(1e-3)
    expect(tracked(c)).toMatchObject({ ok: false, error: { code: 'switching-in-step' } })
  })
})

describe('the current alone', () => {
  const tracked = (c: RippleCase, switchingHz: number | null) =>
    trackedWith(c, { switchingHz }, withCurrentAlone(c.run))

  const expectRight = (c: RippleCase, switchingHz: number | null) => {
    const found = tracked(c, switchingHz)
    if (!found.ok) throw new Error(found.error.text)
    const speed = meanSpeed(found.value, c.steadyFromSec, Number.POSITIVE_INFINITY)!
    expect(speed.ripples).toBeGreaterThan(0.7 * c.ripplePeriods)
    expect(Math.abs(speed.radPerSec / c.speedRadPerSec - 1)).toBeLessThan(1e-3)
  }

  test.each([6, 11, 43, 76])(
    'case %d: switching that nobody stated is not taken for the commutation',
    seed => {
      expect(tracked(rippleCase(seed), null)).toMatchObject({
        ok: false,
        error: { code: 'ambiguous', text: expect.stringMatching(/stand still.*switching/) },
      })
    },
    60_000,
  )

  test.each([26, 76, 276])(
    'case %d: switching stated to 1 % is found and allowed for',
    seed => {
      const c = rippleCase(seed)
      expectRight(c, 1.01 * c.pwmHz!)
    },
    60_000,
  )

  test('lines that stand still are the shaft where nothing switches', () => {
    const c = rippleCase(66)
    expect(tracked(c, null).ok).toBe(false)
    expectRight(c, 0)
  }, 60_000)

  test.each([226, 301])(
    'case %d: short windows do not show the octave below, longer ones tell the speed',
    seed => {
      const c = rippleCase(seed)
      expectRight(c, c.pwmHz ?? 0)
    },
    60_000,
  )
})
