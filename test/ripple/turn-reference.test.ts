import { describe, expect, test } from 'vitest'
import { createPlant } from '../../src/practice-rig/create-plant.ts'
import { defaultBench } from '../../src/practice-rig/default-bench.ts'
import { recordPractice } from '../../src/practice-rig/record-practice.ts'
import { UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import {
  findCountFault,
  settingsForCommutator,
  UNKNOWN_MOTOR,
} from '../../src/ripple/ripple-settings.ts'
import { trackRipple } from '../../src/ripple/track-ripple.ts'
import { turnCandidates, WHAT_DECIDES } from '../../src/ripple/turn-candidates.ts'
import { countRipples } from '../../src/ripple/turn-reference.ts'
import { readSignals } from '../../src/signals/run-signals.ts'
import { practiceMotor } from '../support/practice.ts'

/** Seven segments, fourteen ripples a turn; the count is not told. */
const motor = practiceMotor('hazelnut-24')
const plant = createPlant(motor, defaultBench(motor, { position: true }), 2)
const recording = recordPractice(
  plant,
  [
    { bridge: 'drive', setVolt: 12, durationSec: 0.4 },
    { bridge: 'drive', setVolt: 24, durationSec: 0.6 },
  ],
  50_000,
)
const marksSec = plant
  .takeIndexPulses()
  .map(pulse => pulse.timeSec)
  .filter(sec => sec > 0.7 && sec < 0.95)
const { speed, position, ...columns } = recording.columns
const run = {
  id: 1,
  kind: 'free-run' as const,
  recording: { ...recording, columns },
  conditions: UNKNOWN_CONDITIONS,
}
const found = trackRipple(readSignals(run), {
  ...UNKNOWN_MOTOR,
  resistanceOhm: 5.5,
  brushDropVolt: 0.9,
})
if (!found.ok) throw new Error(found.error.text)
const track = found.value
if (!position) throw new Error('no position to see the mark by')
const steady = speed!.subarray(35_000, 47_500)
const readRadPerSec = steady.reduce((sum, value) => sum + value, 0) / steady.length
const reading = (radPerSec: number, uncertaintyRadPerSec = 1) =>
  countRipples(track, {
    kind: 'reading',
    radPerSec,
    uncertaintyRadPerSec,
    fromSec: 0.7,
    toSec: 0.95,
  })

describe('one look at the shaft tells the ripples a turn', () => {
  test('two and more passes of an optical mark', () => {
    expect(marksSec.length).toBeGreaterThan(10)
    const counted = countRipples(track, { kind: 'marks', timesSec: marksSec })
    expect(counted).toMatchObject({ ok: true, value: { ripplesPerTurn: 14 } })
    const one = countRipples(track, { kind: 'marks', timesSec: marksSec.slice(3, 14) })
    expect(one).toMatchObject({ ok: true, value: { ripplesPerTurn: 14 } })
  })

  test('a tachometer', () => {
    expect(reading(readRadPerSec)).toMatchObject({ ok: true, value: { ripplesPerTurn: 14 } })
  })

  test('a stroboscope at a multiple that no commutator has is refused', () => {
    expect(reading(readRadPerSec * 1.5)).toMatchObject({ ok: false })
    expect(reading(readRadPerSec * 4)).toMatchObject({ ok: false })
  })

  test('a reading too rough to tell 14 from 15', () => {
    const rough = reading(readRadPerSec, 0.05 * readRadPerSec)
    expect(rough.ok).toBe(false)
    if (!rough.ok) expect(rough.error).toContain('read the speed more exactly')
  })

  test('one turn by hand', () => {
    expect(countRipples(null, { kind: 'hand-turn', ripples: 14 })).toMatchObject({ ok: true })
    expect(countRipples(null, { kind: 'hand-turn', ripples: 0 })).toMatchObject({ ok: false })
    expect(countRipples(null, { kind: 'hand-turn', ripples: 1.5 })).toMatchObject({ ok: false })
  })
})

describe('without a look at the shaft', () => {
  test('the candidates carry the constant that each would mean; the true one is among them', () => {
    const candidates = turnCandidates(track)
    const right = candidates.find(candidate => candidate.ripplesPerTurn === 14)!
    expect(right.commutators).toContainEqual({ segments: 7, polePairs: 1 })
    expect(right.commutators).toContainEqual({ segments: 14, polePairs: 1 })
    expect(Math.abs(right.backEmfConstantVsPerRad! / 0.0343 - 1)).toBeLessThan(0.05)
    const doubled = candidates.find(candidate => candidate.ripplesPerTurn === 28)!
    expect(doubled.backEmfConstantVsPerRad! / right.backEmfConstantVsPerRad!).toBeCloseTo(2, 9)
    expect(WHAT_DECIDES.length).toBeGreaterThan(2)
  })
})

describe('counts that no commutator has', () => {
  test.each([
    [0, 1, 'segments = 0; must be a whole number from 2 to 200'],
    [1000, 1, 'segments = 1000; must be a whole number from 2 to 200'],
    [7.5, 1, 'segments = 7.5; must be a whole number from 2 to 200'],
    [7, 4, 'pole pairs = 4; must be a whole number from 1 to 3 for 7 segments'],
  ])('%d segments, %d pole pairs', (segments, polePairs, text) => {
    expect(findCountFault(segments, polePairs)).toBe(text)
    expect(settingsForCommutator(segments, polePairs)).toEqual({ ok: false, error: text })
  })

  test('seven segments of a two-pole motor: fourteen ripples', () => {
    expect(settingsForCommutator(7, 1)).toMatchObject({ ok: true, value: { ripplesPerTurn: 14 } })
  })
})
