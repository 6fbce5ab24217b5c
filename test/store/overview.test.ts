import { expect, test } from 'vitest'
import type { Overview } from '../../server/store/run-record.ts'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import type { Recording } from '../../src/records/recording.ts'
import { channel, newImport, newRun } from '../support/sample-runs.ts'
import { scratchStore } from '../support/scratch-store.ts'

/** 150 000 samples at 10 kHz with a slow wave, noise and a spike; samples 40 000 to 70 000 never came. */
function loggedRun(scale: number) {
  const store = scratchStore()
  const motorId = store.motors.add({ name: 'M' }).id
  const writer = store.runs.begin(newRun(motorId, { channels: [channel('i', 'current', scale)] }))
  const normal = seededNormal(seededUniform(11))
  for (let first = 0; first < 150_000; first += 100) {
    const counts = Int16Array.from({ length: 100 }, (_, i) => {
      const wave = 8000 * Math.sin((first + i) / 9000) + 50 * normal()
      return first + i === 90_123 ? 30_000 : wave
    })
    if (first >= 40_000 && first < 70_000) continue
    const block = { firstSequence: first, startSec: first * 1e-4, intervalSec: 1e-4, counts }
    writer.samples({ ...block, sampleCount: 100 })
    if (first % 2000 === 0) writer.commit()
  }
  writer.commit()
  return { store, writer, id: writer.runId }
}

/** The same slots, by plain counting over all samples. */
function byHand(recording: Recording, from: number, to: number, points: number) {
  const width = (to - from) / points
  const slots = Array.from({ length: points }, () => [] as number[])
  for (const [i, time] of recording.timeSec!.entries()) {
    if (time < from || time > to) continue
    slots[Math.min(points - 1, Math.floor((time - from) / width))]!.push(
      recording.columns.current![i]!,
    )
  }
  return slots.map(values => ({
    low: Math.min(...values),
    high: Math.max(...values),
    mean: values.reduce((sum, value) => sum + value, 0) / values.length,
    count: values.length,
  }))
}

/** Envelopes count at their middle, so that a slot may take or give up to half a bucket at its edges. */
function expectPicture(overview: Overview, recording: Recording, span: readonly [number, number]) {
  const [from, to] = span
  const points = 400
  const width = (to - from) / points
  const slots = byHand(recording, from, to, points)
  const finite = recording.columns.current!.filter((_, i) => {
    const time = recording.timeSec![i]!
    return time >= from && time <= to
  })
  const wrong = [...overview.x.keys()].filter(k => {
    const slot = Math.floor((overview.x[k]! - from) / width)
    const near = slots.slice(Math.max(0, slot - 1), slot + 2)
    const [low, mean, high] = [overview.low[k]!, overview.mean[k]!, overview.high[k]!]
    if (slots[slot]!.count === 0) return !Number.isNaN(mean)
    return !(
      low >= Math.min(...near.map(each => each.low)) &&
      high <= Math.max(...near.map(each => each.high)) &&
      low <= mean &&
      mean <= high
    )
  })
  expect(wrong).toEqual([])
  const shown = overview.low.filter(value => !Number.isNaN(value))
  expect(shown.reduce((a, b) => Math.min(a, b))).toBe(finite.reduce((a, b) => Math.min(a, b)))
  const tops = overview.high.filter(value => !Number.isNaN(value))
  expect(tops.reduce((a, b) => Math.max(a, b))).toBe(finite.reduce((a, b) => Math.max(a, b)))
  expect(overview.x).toHaveLength(points)
}

const spans = [
  [0, 15],
  [1, 14],
  [3.5, 8],
  [6.9, 9.1],
  [8.9, 9.1],
] as const

test.each(spans)('from %s s to %s s shows what counting all samples shows', (from, to) => {
  for (const scale of [1e-3, -1e-3]) {
    const { store, writer, id } = loggedRun(scale)
    const overview = store.runs.overview(id, 'current', from, to, 400)
    expect(overview.isDetail).toBe(false)
    expectPicture(overview, store.runs.recording(id), [from, to])
    writer.finish('complete', '', null)
    expectPicture(store.runs.overview(id, 'current', from, to, 400), store.runs.recording(id), [
      from,
      to,
    ])
  }
})

test('when there are no more samples than points they come one by one, with the gap between', () => {
  const { store, writer, id } = loggedRun(1e-3)
  writer.finish('complete', '', null)
  const overview = store.runs.overview(id, 'current', 3.99, 7.01, 400)
  const { columns, timeSec } = store.runs.recording(id)
  expect(overview.isDetail).toBe(true)
  expect(overview.x).toHaveLength(202)
  expect(overview.mean.findIndex(Number.isNaN)).toBe(100)
  expect(overview.x[100]).toBeCloseTo(5.49995, 9)
  expect([...overview.mean.subarray(101)]).toEqual([...columns.current!.subarray(40_000, 40_101)])
  expect([...overview.x.subarray(0, 100)]).toEqual([...timeSec!.subarray(39_900, 40_000)])
})

test('the mean of a picture of everything is the mean of all samples', () => {
  const { store, id } = loggedRun(1e-3)
  const { mean } = store.runs.overview(id, 'current', 0, 15, 1)
  const { current } = store.runs.recording(id).columns
  expect(mean[0]).toBeCloseTo(current!.reduce((sum, value) => sum + value, 0) / current!.length, 9)
})

test('gaps in an imported column are gaps in its picture', async () => {
  const store = scratchStore()
  const motorId = store.motors.add({ name: 'M' }).id
  const timeSec = Float64Array.from({ length: 20_000 }, (_, i) => i * 1e-3)
  const current = timeSec.map(time => (time >= 5 && time < 10 ? Number.NaN : time))
  const id = await store.runs.importColumns(newImport(motorId), [
    { timeSec, columns: { current }, bridge: null },
  ])
  const overview = store.runs.overview(id, 'current', 0, 20, 20)
  expect([...overview.mean].map(Number.isNaN)).toEqual(
    Array.from({ length: 20 }, (_, i) => i >= 5 && i < 10),
  )
})

test('samples that are merely sparse leave no gaps', async () => {
  const store = scratchStore()
  const motorId = store.motors.add({ name: 'M' }).id
  const timeSec = Float64Array.from({ length: 1000 }, (_, i) => (i < 990 ? i * 1e-6 : i - 989))
  const id = await store.runs.importColumns(newImport(motorId), [
    { timeSec, columns: { current: timeSec }, bridge: null },
  ])
  const overview = store.runs.overview(id, 'current', 0, 10, 100)
  expect(overview.x).toHaveLength(11)
  expect(overview.mean.some(Number.isNaN)).toBe(false)
})

test('steady readings are drawn over their row numbers', async () => {
  const store = scratchStore()
  const motorId = store.motors.add({ name: 'M' }).id
  const voltage = Float64Array.of(0.5, 1, 2, 4)
  const id = await store.runs.importColumns(newImport(motorId), [
    { timeSec: null, columns: { voltage }, bridge: null },
  ])
  const overview = store.runs.overview(id, 'voltage', 0, 3, 100)
  expect([...overview.x]).toEqual([0, 1, 2, 3])
  expect([...overview.mean]).toEqual([...voltage])
  expect(store.runs.samplesWithin(id, 1, 2)).toEqual({ from: 1, to: 3 })
})

test.each([
  ['torque', 0, 1, 100, 'has no torque; it has current'],
  ['current', 1, 1, 100, 'from 1 s to 1 s is no span'],
  ['current', Number.NaN, 1, 100, 'is no span'],
  ['current', 0, 1, 0, 'points 0; must be a whole number from 1 to 100000'],
  ['current', 0, 1, 1e9, 'points 1000000000; must be'],
] as const)('refuses %s from %s to %s in %s points', (quantity, from, to, points, text) => {
  const store = scratchStore()
  const channels = [channel('i', 'current')]
  const { runId: id } = store.runs.begin(newRun(store.motors.add({ name: 'M' }).id, { channels }))
  expect(() => store.runs.overview(id, quantity, from, to, points)).toThrow(text)
})
