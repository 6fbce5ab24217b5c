import { describe, expect, test } from 'vitest'
import { recogniseDocument } from '../../src/contract/recognise-document.ts'
import { practiceHeatingRun } from '../../src/practice-rig/heating-run.ts'
import { LOCK_ANGLES_RAD, practiceRun } from '../../src/practice-rig/practice-run.ts'
import { practiceHandTurn, practiceSlowTurn } from '../../src/practice-rig/slow-turn.ts'
import type { FindingId } from '../../src/contract/recognise-document.ts'
import type { PracticeMotor } from '../../src/records/practice-motor.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import { recognise } from '../../src/recognise/recognise.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { practiceMotor } from '../support/practice.ts'

const hazelnut = practiceMotor('hazelnut-24')
const wagtail = practiceMotor('wagtail-12')
const tumbril = practiceMotor('tumbril-24')
const sootfall = practiceMotor('sootfall-24')
const shorted: PracticeMotor = {
  ...hazelnut,
  winding: { ...hazelnut.winding, fault: { kind: 'shorted-segments', coil: 2 } },
}

const locked = (motor: PracticeMotor, count: number, benchSeed = 4) =>
  LOCK_ANGLES_RAD.slice(0, count).map((shaftAngleRad, i) =>
    practiceRun(motor, 'locked-rotor', 10 + i, { benchSeed, shaftAngleRad }),
  )

const turning = (motor: PracticeMotor, kind: 'free-run' | 'run-up') =>
  practiceRun(motor, kind, kind === 'free-run' ? 20 : 21, { benchSeed: 4 })

function look(runs: readonly TestRun[]) {
  const found = recognise('m', runs, null, { ratedVolt: null, referenceCelsius: 20 })
  if (!found.ok) throw new Error(found.error)
  const document = recogniseDocument.parse(found.value)
  const finding = (id: FindingId) => document.findings.find(each => each.id === id)!
  const value = (id: FindingId, name: string) =>
    finding(id).evidence.find(each => each.name.startsWith(name))!.value
  return { document, finding, value }
}

describe('a sound motor in its first minute', () => {
  const { document, finding, value } = look([
    ...locked(hazelnut, 2),
    turning(hazelnut, 'free-run'),
    turning(hazelnut, 'run-up'),
    practiceHandTurn(hazelnut, 22, { benchSeed: 4 }),
    practiceSlowTurn(hazelnut, 23, { benchSeed: 4 }),
  ])

  test('every finding is there, each with what it rests on', () => {
    expect(document.findings.length).toBe(13)
    for (const each of document.findings) {
      expect(each.confidence === null).toBe(each.verdict === 'cannot-say')
      if (each.verdict === 'cannot-say') expect(each.test).toBeTruthy()
      else expect(each.evidence.length).toBeGreaterThan(0)
    }
  })

  test('resistance, brushes, time constants', () => {
    expectRelative(value('resistanceClass', 'resistance'), 5.3 * 1.012 + 0.17, 0.04)
    expect(finding('brushes').text).toContain('carbon')
    expectRelative(value('timeConstants', 'electrical'), 0.0026 / 5.53, 0.06)
    expectRelative(value('timeConstants', 'mechanical'), (3.6e-6 * 5.53) / 0.0343 ** 2, 0.15)
  })

  test('direction, ripples a turn (lcm of segments and poles), starting voltage', () => {
    expect(finding('polarity').verdict).toBe('seen')
    expect(finding('rippleCount').text).toContain('14 ripples a turn')
    // Break-away torque over k times R, and the drop of the brushes at that current.
    const amp = 0.0029 / 0.0343
    expectRelative(
      value('startingVoltage', 'forward'),
      5.5 * amp + 0.9 * Math.tanh(amp / 0.12),
      0.35,
    )
  })

  test.each(['windingOverAngle', 'turnUnevenness', 'backlash', 'capacitor', 'varistor'] as const)(
    '%s: nothing is seen that is not there',
    id => {
      expect(finding(id).verdict).toBe('not-seen')
    },
  )

  test('a cut-out cannot be told from tests so gentle', () => {
    expect(finding('cutOut').verdict).toBe('cannot-say')
    expect(finding('cutOut').test).toContain('heating run')
  })

  test('the proposed nameplate follows from the tests', () => {
    const line = (label: string) => document.nameplate.lines.find(each => each.label === label)!
    expect(line('Rated voltage').value).toBe(24)
    expectRelative(line('Stall current').value!, (24 - 0.9) / 5.53, 0.04)
    expectRelative(line('Stall torque').value!, 0.0343 * ((24 - 0.9) / 5.53), 0.06)
    const free = (24 - 0.9 - 5.53 * 0.085) / 0.0343
    expectRelative(line('Free-run speed').value!, free, 0.03)
    expect(line('Continuous current')).toMatchObject({ value: null })
    expect(line('Continuous current').basis).toContain('heating run')
    expect(document.nameplate.assumptions.length).toBeGreaterThan(2)
  })
})

describe('a motor whose brushes are wide', () => {
  const brindle = practiceMotor('brindle-12')
  const { finding, value } = look([
    ...locked(brindle, 2),
    turning(brindle, 'free-run'),
    turning(brindle, 'run-up'),
    practiceHandTurn(brindle, 22, { benchSeed: 4 }),
  ])

  test('shows lines at the commutation and at half of it: both counts are told, the true one first', () => {
    expect(finding('rippleCount')).toMatchObject({ verdict: 'seen', confidence: 'hint' })
    // lcm(8 segments, 2 poles) = 8 comes first; a line at half of it shows, too.
    expect(finding('rippleCount').text).toMatch(/^8 or 4 ripples a turn/)
  })

  test('k is not spoilt by a slow turn, which tells none', () => {
    expectRelative(value('polarity', 'back-EMF'), 0.0252, 0.05)
    expect(finding('windingOverAngle').verdict).toBe('not-seen')
  })
})

describe('what is across the terminals', () => {
  test('a capacitor is seen, its capacitance within a third', () => {
    const { finding, value } = look(locked(wagtail, 3))
    expect(finding('capacitor').verdict).toBe('seen')
    expectRelative(value('capacitor', 'charge'), 4.7e-7, 0.33)
    // Its varistor conducts above the voltages of a locked rotor.
    expect(finding('varistor').verdict).toBe('not-seen')
    expect(finding('varistor').test).toContain('above the rated one')
  })

  test('a varistor that conducts within the voltages tried bends the current upwards', () => {
    const low: PracticeMotor = {
      ...hazelnut,
      across: { capacitorFarad: 0, varistorVolt: 13.6, varistorExponent: 25 },
    }
    const { finding, value } = look(locked(low, 2))
    expect(finding('varistor').verdict).toBe('seen')
    // 1 mA (16.0/13.6)^25 at the top, less what the levels below it take of the line.
    expectRelative(value('varistor', 'current beyond'), 1e-3 * (16 / 13.6) ** 25, 0.35)
  })

  test('without logged edges, or with samples of an instant, there is no word on a capacitor', () => {
    const runs = locked(wagtail, 2).map(run => ({
      ...run,
      recording: { ...run.recording, edges: [] },
    }))
    expect(look(runs).finding('capacitor').verdict).toBe('cannot-say')
  })

  test('a cut-out that opens in a heating run', () => {
    const hot = practiceHeatingRun(tumbril, 31, { heatWatt: 12, heatSec: 400, coolSec: 100 })
    const { finding, value } = look([hot])
    expect(finding('cutOut').verdict).toBe('seen')
    // Opens at 85 degC from 23: copper (234.5 + 85)/(234.5 + 23), and what does not warm.
    const ratio = value('cutOut', 'resistance then')
    expect(ratio).toBeGreaterThan(1.1)
    expect(ratio).toBeLessThan(319.5 / 257.5 + 0.02)
  })
})

describe('damage and gears', () => {
  test('an open coil doubles the resistance over the turn', () => {
    const { finding, value } = look([
      ...locked(hazelnut, 1),
      turning(hazelnut, 'run-up'),
      practiceHandTurn(sootfall, 41, { benchSeed: 4, turns: 2 }),
    ])
    expect(finding('windingOverAngle').verdict).toBe('seen')
    expect(value('windingOverAngle', 'highest')).toBeGreaterThan(
      1.8 * value('windingOverAngle', 'lowest'),
    )
  })

  test('short-circuited segments swell twice a turn, by about 0.67/N (by hand) less the skew', () => {
    const { finding, value } = look([...locked(shorted, 2), turning(shorted, 'free-run')])
    expect(finding('turnUnevenness').verdict).toBe('seen')
    expectRelative(value('turnUnevenness', '2 a turn'), (0.8 * 0.67) / 7, 0.15)
  })

  test('the play of a gearbox, and its friction beyond', () => {
    const { finding, value } = look([
      ...locked(tumbril, 1),
      turning(tumbril, 'run-up'),
      turning(tumbril, 'free-run'),
      practiceSlowTurn(tumbril, 43, { benchSeed: 4 }),
    ])
    expect(finding('backlash').verdict).toBe('seen')
    expectRelative(value('backlash', 'play'), 2.4, 0.15)
    expectRelative(value('backlash', 'drag beyond'), 0.0032 / 0.0343, 0.1)
  })
})

describe('what the tests cannot tell', () => {
  test('one locked-rotor test without a speed channel tells no direction, no count, no starting voltage', () => {
    const [run] = locked(hazelnut, 1)
    const { speed: _, ...columns } = run!.recording.columns
    const { document, finding } = look([{ ...run!, recording: { ...run!.recording, columns } }])
    for (const id of ['polarity', 'rippleCount', 'startingVoltage', 'backlash'] as const) {
      expect(finding(id)).toMatchObject({ verdict: 'cannot-say', confidence: null })
    }
    expect(document.nameplate.lines[0]!.value).toBeNull()
  })

  test('a free run sampled 50 times a second says nothing of unevenness and play', () => {
    const free = turning(hazelnut, 'free-run')
    const { recording } = free
    const kept = recording.timeSec!.map((_, i) => i).filter(i => i % 200 === 0)
    const thin = (column: Float64Array) => Float64Array.from(kept, i => column[i]!)
    const slow: TestRun = {
      ...free,
      recording: {
        ...recording,
        sampleCount: kept.length,
        timeSec: thin(recording.timeSec!),
        columns: Object.fromEntries(
          Object.entries(recording.columns).map(([name, column]) => [name, thin(column)]),
        ),
        bridge: Uint8Array.from(kept, i => recording.bridge![i]!),
      },
    }
    const { finding } = look([...locked(hazelnut, 1), turning(hazelnut, 'run-up'), slow])
    expect(finding('turnUnevenness').text).toContain('20 times a turn')
    expect(finding('backlash').text).toContain('slowly enough')
  })

  test('without tests there is nothing to judge', () => {
    const found = recognise('m', [], null, { ratedVolt: null, referenceCelsius: 20 })
    expect(found.ok ? '' : found.error).toContain('no tests to judge by')
  })
})
