import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import type { Quantity } from '../../src/records/quantity.ts'
import { PLAIN_TRAITS } from '../../src/records/recording.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import { checkChannels } from '../../src/signals/channel-checks.ts'
import { readSignals } from '../../src/signals/run-signals.ts'
import { saturatedSamples } from '../../src/signals/saturated-samples.ts'
import {
  asRun,
  type IdealStep,
  simulateMotor,
  textbookRuns,
  typicalMotor,
} from '../support/simulate-motor.ts'

const motor = typicalMotor(20, 12)
const noise = { volt: 0.01, amp: 0.01, radPerSec: 0.5 }
const on = (volt: number, sec: number): IdealStep => ({ bridge: 'drive', volt, sec })
const run = asRun(
  1,
  'free-run',
  simulateMotor(motor, [on(0, 0.05), on(6, 0.6), on(12, 0.6)], 5000, { noise }),
)
type Columns = TestRun['recording']['columns']
const changed = (change: (columns: Columns) => Columns): TestRun => ({
  ...run,
  recording: { ...run.recording, columns: change(run.recording.columns) },
})
const found = (of: TestRun) =>
  checkChannels(of, readSignals(of)).map(({ code, text }) => `${code}: ${text}`)
const map = (name: Quantity, of: (value: number, n: number) => number) => (columns: Columns) => ({
  ...columns,
  [name]: columns[name]!.map(of),
})

test('good recordings raise nothing, noisy or not', () => {
  for (const good of [
    ...textbookRuns(motor, 12, 5000, { noise }),
    ...textbookRuns(motor, 12, 5000),
  ]) {
    expect(found(good)).toEqual([])
  }
})

test('noise about nil is no bridge that switches', () => {
  const stepOfConverter = () => 0.0006 * Math.round(0.4 * random())
  const random = seededNormal(seededUniform(6))
  const hiss = () => 0.01 * random()
  const quiet = changed(columns => ({
    voltage: columns.voltage!.map(hiss),
    current: columns.current!.map(hiss),
    speed: columns.speed!.map(hiss),
  }))
  expect(found({ ...quiet, kind: 'zero' })).toEqual([])
  // Nor are the steps of a converter whose noise is less than one of them.
  const steps = changed(columns => ({ ...columns, voltage: columns.voltage!.map(stepOfConverter) }))
  expect(found({ ...steps, kind: 'zero' }).filter(text => text.startsWith('raw-pwm'))).toEqual([])
})

test.each([0, 1, 2])('a bridge that opens is no swap, freewheel pulse of %i samples', pulse => {
  // The recording starts while the motor runs: the opening is the only jump of the current.
  const count = 1000
  const opening = 300
  const random = seededNormal(seededUniform(5))
  const column = (of: (n: number) => number) =>
    Float64Array.from({ length: count }, (_, n) => of(n) + 1e-3 * random())
  const speed = (n: number) => (n < opening ? 400 : 400 * Math.exp((opening - n) / 500))
  const columns = {
    // The winding drives its current on through the diodes: supply and a diode, reversed.
    voltage: column(n => (n < opening - pulse ? 12 : n < opening ? -12.7 : 0.0299 * speed(n))),
    current: column(n => (n < opening ? 2 : 0)),
    speed: column(speed),
  }
  const timeSec = Float64Array.from({ length: count }, (_, n) => n / 5000)
  const recording = { ...run.recording, sampleCount: count, timeSec, columns }
  expect(found({ ...run, kind: 'coast-down', recording })).toEqual([])
})

test('samples slower than the winding, means over an edge each, are no swap', () => {
  // Every step is half done in its first sample; the current follows at once and falls as the shaft speeds up.
  const volt = [0, 0, 0, 4.9, 11, 11, 11, 11, 11, 11, 11, 11, 11, 11, 11, 11]
  const amp = [0, 0, 0, 6.1, 8.5, 8.1, 7.7, 7.3, 7, 6.8, 6.6, 6.4, 6.2, 6.1, 6, 6]
  const timeSec = Float64Array.from(volt, (_, n) => n * 0.01)
  const columns = {
    voltage: Float64Array.from(volt),
    current: Float64Array.from(amp),
    speed: Float64Array.from(volt, (_, n) => Math.max(0, 20 * (n - 3))),
  }
  const recording = { ...run.recording, sampleCount: volt.length, timeSec, columns, edges: [] }
  const codes = found({ ...run, kind: 'run-up', recording }).filter(text => /^swapped/.test(text))
  expect(codes).toEqual([])
})

test('a supply in current limit, whose voltage creeps up with the speed, is no swap', () => {
  const count = 30
  const held = Array.from({ length: count }, (_, n) => Math.max(0, n - 2))
  const columns = {
    voltage: Float64Array.from(held, n => Math.min(12, n && 2.4 + 0.6 * n)),
    current: Float64Array.from(held, n => (n > 16 ? 3 * 0.8 ** (n - 16) : n && 3)),
    speed: Float64Array.from(held, n => 20 * Math.min(n, 17)),
  }
  const timeSec = Float64Array.from(held, (_, n) => n * 0.001)
  const recording = { ...run.recording, sampleCount: count, timeSec, columns, edges: [] }
  const codes = found({ ...run, kind: 'run-up', recording }).filter(text => /^swapped/.test(text))
  expect(codes).toEqual([])
})

describe('what is wrong is named', () => {
  const cases: { name: string; run: TestRun; says: RegExp }[] = [
    {
      name: 'a speed that never changes',
      run: changed(map('speed', () => 0)),
      says: /^constant-channel: speed reads 0 in all 6250 samples/,
    },
    {
      name: 'a voltage sampled within the PWM period',
      run: changed(map('voltage', (_, n) => (n % 3 === 0 ? 12 : 0))),
      says: /^raw-pwm: the voltage jumps between samples as a PWM bridge does/,
    },
    {
      name: 'a coast after a drive without any current',
      run: {
        ...run,
        kind: 'coast-down',
        recording: {
          ...run.recording,
          columns: map('current', () => 0)(run.recording.columns),
          bridge: Uint8Array.from(run.recording.timeSec!, t => (t < 0.65 ? 0 : 1)),
        },
      },
      says: /^constant-channel: current reads 0 in all 6250 samples/,
    },
    {
      name: 'a clipped current',
      run: changed(map('current', amp => Math.min(amp, 1.5))),
      says: /^saturated-channel: current is at the end of its range in \d+ samples/,
    },
    {
      name: 'many gaps',
      run: changed(map('current', (amp, n) => (n % 5 === 0 ? Number.NaN : amp))),
      says: /^missing-samples: 20 % of the current samples are missing/,
    },
    {
      name: 'current and voltage swapped',
      run: changed(columns => ({
        ...columns,
        voltage: columns.current!,
        current: columns.voltage!,
      })),
      says: /^swapped-channels: the current jumps where the voltage only creeps/,
    },
    {
      name: 'a speed in 1/min declared as rad/s',
      run: changed(map('speed', w => (60 / (2 * Math.PI)) * w)),
      says: /^speed-unit: the speed reaches \d+ rad\/s, \d+ turns a minute; was it recorded in 1\/min.* would be \d+ rad/,
    },
  ]
  test.each(cases)('$name', ({ run: bad, says }) => {
    expect(found(bad).filter(text => says.test(text))).toHaveLength(1)
  })

  test('readings at a declared limit', () => {
    const limited: TestRun = {
      ...run,
      recording: {
        ...run.recording,
        traits: { voltage: { ...PLAIN_TRAITS, rangeHigh: 12.001 } },
      },
    }
    expect(found(limited)[0]).toMatch(/^saturated-channel: voltage/)
  })
})

test('a range that is reached for long on one side ends on the other too', () => {
  const clipped = changed(
    map('current', (amp, n) => (n === 100 ? -1.5 : Math.max(-1.5, Math.min(amp, 1.5)))),
  )
  const signals = readSignals(clipped)
  const found = saturatedSamples('current', signals.current!, clipped)!
  expect(found.flags[100]).toBe(1)
  const atEnds = clipped.recording.columns.current!.filter(amp => Math.abs(amp) === 1.5)
  expect(found.flags.reduce((sum, flag) => sum + flag, 0)).toBe(atEnds.length)
})

test('a voltage that stays while the bridge steers is the supply’s', () => {
  const edges = [
    { timeSec: 0.05, state: 'drive', setVolt: 6 },
    { timeSec: 0.65, state: 'drive', setVolt: 12 },
  ] as const
  const steered = (of: TestRun): TestRun => ({ ...of, recording: { ...of.recording, edges } })
  const warnings = (of: TestRun) =>
    found(steered(of)).filter(text => text.startsWith('supply-voltage'))
  expect(warnings(run)).toEqual([])
  const hiss = seededNormal(seededUniform(11))
  const beforeBridge = changed(map('voltage', () => 14 + 0.02 * hiss()))
  expect(warnings(beforeBridge)).toEqual([
    expect.stringMatching(/stays at 14 V .* apply 6 V to 12 V.*measure across the motor/),
  ])
  // A supply at the limit of its current reads alike, too, but less than it was set to.
  expect(warnings(changed(map('voltage', () => 5 + 0.02 * hiss())))).toEqual([])
})
