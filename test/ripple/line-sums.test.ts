import { describe, expect, test } from 'vitest'
import { UNKNOWN_MOTOR } from '../../src/ripple/ripple-settings.ts'
import { trackRipple } from '../../src/ripple/track-ripple.ts'
import { readSignals } from '../../src/signals/run-signals.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { expectMostTold } from '../support/expect-most-told.ts'
import { type LineSumCase, lineSumCase } from '../support/line-sum-case.ts'

const SEEDS = Array.from({ length: 24 }, (_, k) => k + 1)

const tracked = (c: LineSumCase) =>
  trackRipple(readSignals(c.run), {
    ...UNKNOWN_MOTOR,
    ripplesPerTurn: c.ripplesPerTurn,
    polePairs: c.polePairs,
    resistanceOhm: c.resistanceOhm,
    switchingHz: c.statedSwitchingHz,
  })

describe('sums of lines that owe nothing to the practice rig, the count of ripples known', () => {
  test('three in four tell the speed within 0.1 %, none another one', () => {
    expectMostTold(SEEDS, tracked)
  }, 120_000)

  test('without the lines of the shaft none is told', () => {
    // 550: noise that what stands out beside the switching makes more of; 738: the switching moves with a level that is straightened.
    for (const seed of [...SEEDS, 550, 738]) {
      expect(tracked(lineSumCase(seed, 0)), `seed ${seed}`).toMatchObject({ ok: false })
    }
  }, 120_000)

  test('pieces shorter than a mean of the back-EMF do not cost the record its voltage', () => {
    // Between the pulses of a chopper, read at single moments, current and voltage are nil: the bridge seems to coast.
    const c = lineSumCase(63)
    const found = tracked(c)
    if (!found.ok) throw new Error(found.error.text)
    expectRelative(
      found.value.comb.turnsPerVoltSec,
      1 / (2 * Math.PI * c.backEmfConstantVsPerRad),
      0.05,
    )
  }, 60_000)
})
