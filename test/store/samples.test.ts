import { describe, expect, test } from 'vitest'
import type { NewBench } from '../../server/store/store.ts'
import { PLAIN_TRAITS } from '../../src/records/recording.ts'
import { channel, countAt, countBlock, newRun, THREE_CHANNELS } from '../support/sample-runs.ts'
import { scratchStore } from '../support/scratch-store.ts'

const plainBench: NewBench = {
  name: 'B',
  rigSerialNumber: 'R-1',
  supplyVolt: null,
  supplyLimitAmp: null,
  declaredAbove60Volt: false,
  sensors: [],
  fixture: null,
  notes: '',
}

function storeWithMotor() {
  const store = scratchStore()
  return { store, motorId: store.motors.add({ name: 'M' }).id }
}

/** Logs blocks of 97 samples with a commit now and then, as a recorder does. */
function log(samples: number, commitEvery: number, skip: readonly number[] = []) {
  const { store, motorId } = storeWithMotor()
  const writer = store.runs.begin(newRun(motorId))
  for (let first = 0, block = 0; first < samples; first += 97, block++) {
    if (!skip.includes(block)) writer.samples(countBlock(first, Math.min(97, samples - first)))
    if (block % commitEvery === 0) writer.commit()
  }
  return { store, writer, id: writer.runId }
}

function expectCounts(
  recording: ReturnType<ReturnType<typeof scratchStore>['runs']['recording']>,
  sequences: readonly number[],
) {
  const { voltage, current, speed } = recording.columns
  expect(recording.sampleCount).toBe(sequences.length)
  const wrong = sequences.filter(
    (sequence, i) =>
      voltage![i] !== 1e-3 * countAt(sequence, 0) ||
      current![i] !== 2e-3 * countAt(sequence, 1) + 0.5 ||
      speed![i] !== 0.1 * countAt(sequence, 2) - 3 ||
      Math.abs(recording.timeSec![i]! - sequence * 1e-4) > 1e-9,
  )
  expect(wrong).toEqual([])
}

const range = (from: number, to: number) => Array.from({ length: to - from }, (_, i) => from + i)

test.each([
  [1, 1],
  [97, 1],
  [5000, 3],
  [65_536, 50],
  [200_000, 40],
])('%s samples logged with a commit every %s blocks come back exactly', (samples, commitEvery) => {
  const { store, writer, id } = log(samples, commitEvery)
  writer.commit()
  expectCounts(store.runs.recording(id), range(0, samples))
  writer.finish('complete', 'done', null)
  expectCounts(store.runs.recording(id), range(0, samples))
  expect(store.runs.get(id)).toMatchObject({
    sampleCount: samples,
    ending: 'complete',
    endingText: 'done',
    losses: [],
    quantities: ['voltage', 'current', 'speed'],
  })
  expect(store.runs.get(id).durationSec).toBeCloseTo((samples - 1) * 1e-4, 9)
})

test('any part of a run can be read by itself, across chunks', () => {
  const { store, writer, id } = log(140_000, 40)
  writer.finish('complete', '', null)
  for (const [from, to] of [
    [0, 1],
    [65_530, 65_540],
    [65_536, 131_072],
    [100, 139_999],
  ] as const) {
    expectCounts(store.runs.recording(id, { from, to }), range(from, to))
  }
  expect(store.runs.recording(id, { from: 139_990, to: 200_000 }).sampleCount).toBe(10)
  const pieces = [...store.runs.pieces(id, 50_000)]
  expect(pieces.map(piece => piece.sampleCount)).toEqual([50_000, 50_000, 40_000])
  expectCounts(pieces[2]!, range(100_000, 140_000))
})

test('a block that never came is a counted gap, not an invented sample', () => {
  const { store, writer, id } = log(970, 2, [3, 4, 7])
  writer.finish('complete', '', null)
  const missing = new Set([...range(291, 485), ...range(679, 776)])
  expectCounts(
    store.runs.recording(id),
    range(0, 970).filter(sequence => !missing.has(sequence)),
  )
  expect(store.runs.get(id).losses).toEqual([{ where: 'link', samples: 291 }])
  expect(store.runs.gaps(id)).toMatchObject([
    { afterSample: 290, missing: 194 },
    { afterSample: 484, missing: 97 },
  ])
  expect(store.runs.gaps(id)[0]!.fromSec).toBeCloseTo(0.029, 9)
  expect(store.runs.gaps(id)[0]!.toSec).toBeCloseTo(0.0485, 9)
})

test('a gap that the recorder accounts for is not counted twice', () => {
  const { store, motorId } = storeWithMotor()
  const writer = store.runs.begin(newRun(motorId))
  writer.samples(countBlock(0, 10))
  writer.lost(20, 'disk')
  writer.samples(countBlock(35, 10))
  writer.finish('complete', '', null)
  expect(store.runs.get(writer.runId).losses).toEqual([
    { where: 'link', samples: 5 },
    { where: 'disk', samples: 20 },
  ])
})

test('counts beyond 16 bits are kept as they are', () => {
  const { store, motorId } = storeWithMotor()
  const channels = [channel('p', 'position', 1e-4)]
  const writer = store.runs.begin(newRun(motorId, { channels }))
  const counts = Int32Array.of(-2_000_000_000, 0, 40_000, 2_000_000_000)
  writer.samples({ firstSequence: 0, startSec: 0, intervalSec: 1, sampleCount: 4, counts })
  writer.finish('complete', '', null)
  expect([...store.runs.recording(writer.runId).columns.position!]).toEqual(
    [...counts].map(count => 1e-4 * count),
  )
})

test('of two channels of one quantity the first is the quantity', () => {
  const { store, motorId } = storeWithMotor()
  const channels = [channel('i1', 'current', 1), channel('i2', 'current', 100)]
  const writer = store.runs.begin(newRun(motorId, { channels }))
  const counts = Int16Array.of(1, 2, 3, 4)
  writer.samples({ firstSequence: 0, startSec: 0, intervalSec: 1, sampleCount: 2, counts })
  writer.finish('complete', '', null)
  expect([...store.runs.recording(writer.runId).columns.current!]).toEqual([1, 3])
})

test.each([
  [{ counts: new Int16Array(4) }, 'counts.length = 4; must be sampleCount 10 × 3'],
  [{ intervalSec: 0 }, 'intervalSec = 0; must be above 0'],
  [{ startSec: 0.0009 }, 'startSec = 0.0009; must be after 0.0009'],
  [{ startSec: Number.NaN }, 'startSec = NaN'],
  [{ firstSequence: 9 }, 'firstSequence = 9; must be an integer >= 10'],
  [{ firstSequence: 10.5 }, 'firstSequence = 10.5; must be an integer'],
])('a block that does not fit is refused: %j', (changes, text) => {
  const { store, motorId } = storeWithMotor()
  const writer = store.runs.begin(newRun(motorId))
  writer.samples(countBlock(0, 10))
  const time = { startSec: 1 }
  expect(() => writer.samples({ ...countBlock(10, 10), ...time, ...changes })).toThrow(text)
  writer.finish('complete', '', null)
  expect(store.runs.get(writer.runId).sampleCount).toBe(10)
})

describe('calibration', () => {
  const calibration = {
    channel: 'i',
    gain: 2,
    zero: 0.5,
    gainUncertainty: 1e-3,
    zeroUncertainty: 4e-3,
    method: 'reference-instruments' as const,
    references: [],
    points: [],
    author: 'Ada',
    notes: '',
    performedAt: '2026-03-01T00:00:00.000Z',
    validUntil: null,
  }

  test('in force when the run began is applied on reading; a later one changes nothing', () => {
    const { store, motorId } = storeWithMotor()
    const benchId = store.benches.add(plainBench).id
    const { id } = store.calibrations.add({ ...calibration, benchId })
    store.calibrations.add({ ...calibration, benchId, channel: 'not on this rig' })
    const writer = store.runs.begin(newRun(motorId, { benchId }))
    writer.samples(countBlock(0, 10))
    writer.finish('complete', '', null)
    const late = { gain: 7, performedAt: '2026-03-01T01:00:00.000Z' }
    store.calibrations.add({ ...calibration, benchId, ...late })

    const recording = store.runs.recording(writer.runId)
    expect(store.runs.get(writer.runId).calibrationIds).toEqual([id])
    for (const [i, value] of recording.columns.current!.entries()) {
      expect(value).toBeCloseTo(2 * (2e-3 * countAt(i, 1) + 0.5 - 0.5), 9)
    }
    expect(recording.traits.current).toEqual({
      ...PLAIN_TRAITS,
      resolution: 4e-3,
      gainUncertainty: 1e-3,
      zeroUncertainty: 8e-3,
    })
    expect(recording.traits.voltage).toEqual({ ...PLAIN_TRAITS, resolution: 1e-3 })
  })

  test('that had expired is said in the run', () => {
    const { store, motorId } = storeWithMotor()
    const benchId = store.benches.add(plainBench).id
    const validUntil = '2026-03-10T00:00:00.000Z'
    store.calibrations.add({ ...calibration, benchId, validUntil })
    const writer = store.runs.begin(newRun(motorId, { benchId }))
    writer.finish('complete', '', null)
    expect(store.runs.diary(writer.runId).notes).toEqual([
      {
        timeSec: null,
        code: 'calibration-expired',
        text: 'the calibration of channel i expired on 2026-03-10',
      },
    ])
  })
})

test('bridge edges give every sample the state of its moment', () => {
  const { store, motorId } = storeWithMotor()
  const writer = store.runs.begin(newRun(motorId))
  writer.samples(countBlock(0, 6))
  writer.edge({ timeSec: 4.2e-4, state: 'brake', setVolt: 0 })
  writer.edge({ timeSec: 1.1e-4, state: 'drive', setVolt: 6 })
  writer.edge({ timeSec: 3e-4, state: 'coast', setVolt: null })
  writer.finish('complete', '', null)
  const recording = store.runs.recording(writer.runId)
  expect([...recording.bridge!]).toEqual([255, 255, 0, 1, 1, 2])
  expect(recording.edges.map(edge => edge.state)).toEqual(['drive', 'coast', 'brake'])
})

test('the diary keeps notes and rejected lines in order, whatever bytes they hold', () => {
  const { store, motorId } = storeWithMotor()
  const writer = store.runs.begin(newRun(motorId))
  const raw = 'S 12 \u0000\u001b[2J 🦊 \ud83d*BEEF'
  writer.note({ timeSec: 0.5, code: 'trip', text: 'over-current' })
  writer.note({ timeSec: null, code: 'step', text: 'second level' })
  writer.rejected({ raw, reason: 'checksum' })
  writer.rejected({ raw: 'x'.repeat(5000), reason: 'too long' })
  writer.finish('tripped', 'over-current', null)
  expect(store.runs.diary(writer.runId).notes.map(note => note.code)).toEqual(['trip', 'step'])
  const lines = store.runs.rejectedLines(writer.runId)
  expect(lines[0]).toEqual({ raw: raw.replace('\ud83d', '\ufffd'), reason: 'checksum' })
  expect(lines[1]!.raw).toHaveLength(1024)
  expect(store.runs.rejectedLines(writer.runId, 1)).toHaveLength(1)
})

test('a flood of rejected lines is counted to the last, and kept to a bound', () => {
  const { store, motorId } = storeWithMotor()
  const writer = store.runs.begin(newRun(motorId))
  for (let i = 0; i < 10_500; i++) writer.rejected({ raw: `line ${i}`, reason: 'noise' })
  writer.finish('complete', '', null)
  expect(store.runs.get(writer.runId).rejectedLines).toBe(10_500)
  expect(store.runs.rejectedLines(writer.runId)).toHaveLength(10_000)
})

test('what is excluded by hand is a gap for the analysis, and stays in the recording', () => {
  const { store, writer, id } = log(100, 1)
  writer.finish('complete', '', null)
  const whole = store.runs.samplesWithin(id, 0.001, 0.002)
  expect(whole).toEqual({ from: 10, to: 21 })
  store.runs.exclude(id, [{ ...whole, reason: 'slipped' }])
  const { recording } = store.runs.testRun(id)
  expect(recording.columns.voltage!.findIndex(Number.isNaN)).toBe(10)
  expect(recording.columns.speed!.filter(Number.isNaN)).toHaveLength(11)
  expect(store.runs.recording(id).columns.voltage!.some(Number.isNaN)).toBe(false)
  expect(store.runs.get(id).excluded).toEqual([{ from: 10, to: 21, reason: 'slipped' }])
  for (const bad of [
    { from: 5, to: 5 },
    { from: -1, to: 5 },
    { from: 0, to: 101 },
  ]) {
    expect(() => store.runs.exclude(id, [{ ...bad, reason: '' }])).toThrow(/samples -?\d+ to \d+/)
  }
})

test('the hash of the inputs sees everything that a fit sees, and not how it is cut', () => {
  const one = log(70_000, 40)
  const same = log(70_000, 7)
  const hash = ({ store, id }: typeof one) => store.runs.inputsHash([id])
  one.writer.commit()
  same.writer.finish('complete', '', null)
  const before = hash(one)
  expect(hash(same)).toBe(before)
  same.store.runs.exclude(same.id, [{ from: 0, to: 5, reason: '' }])
  expect(hash(same)).not.toBe(before)
  one.writer.samples(countBlock(70_000, 1))
  one.writer.commit()
  expect(hash(one)).not.toBe(before)
  expect(one.store.runs.recording(one.id).columns).toHaveProperty(THREE_CHANNELS[0]!.quantity)
})
