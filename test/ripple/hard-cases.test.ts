import { describe, expect, test } from 'vitest'
import { meanSpeed } from '../../src/ripple/mean-speed.ts'
import { UNKNOWN_MOTOR } from '../../src/ripple/ripple-settings.ts'
import { trackRipple } from '../../src/ripple/track-ripple.ts'
import { readSignals } from '../../src/signals/run-signals.ts'
import { rippleCase } from '../support/ripple-case.ts'

/** Seeded cases that once were refused or told wrongly, one or two of each kind; the count of ripples alone is known. */
describe('the count of ripples alone tells the speed within 0.1 %', () => {
  test.each([
    [41, 'an even count, whose third multiple might be the commutation of uneven segments'],
    [388, 'the second line above the first at one level of speed'],
    [43, 'a far harmonic of the switching beside the commutation'],
    [253, 'a harmonic of the switching beside the commutation, 4.5 dB'],
    [37, 'multiples of the commutation folded at half the sample rate'],
    [105, 'the other level of speed a little off what the back-EMF says'],
    [61, 'switching that the averaging of the samples has left little of'],
    [175, 'a harmonic of the switching on the commutation, at one level of speed only'],
    [395, 'a harmonic of the switching on the commutation: other orders tell the speed'],
  ])(
    'case %d: %s',
    seed => {
      const c = rippleCase(seed)
      const found = trackRipple(readSignals(c.run), {
        ...UNKNOWN_MOTOR,
        ripplesPerTurn: c.ripplesPerTurn,
        polePairs: c.motor.winding.polePairs,
        resistanceOhm: c.resistanceOhm * (0.9 + 0.002 * ((seed * 37) % 100)),
      })
      if (!found.ok) throw new Error(found.error.text)
      const speed = meanSpeed(found.value, c.steadyFromSec, Number.POSITIVE_INFINITY)
      expect(speed!.ripples).toBeGreaterThan(0.7 * c.ripplePeriods)
      expect(Math.abs(speed!.radPerSec / c.speedRadPerSec - 1)).toBeLessThan(1e-3)
    },
    60_000,
  )
})
