import { expect, test } from 'vitest'
import { seededUniform } from '../../src/base/random.ts'
import {
  appendMark,
  fillTimes,
  MARK_TOLERANCE_SEC,
  markFor,
  sequenceOfSample,
  sliceMarks,
  type TimeMark,
  timeOfSample,
} from '../../src/signals/time-marks.ts'

/** Marks of blocks of 100 samples at 1 kHz that start where `starts` says. */
function marksOf(starts: readonly { sequence: number; startSec: number }[]): TimeMark[] {
  const marks: TimeMark[] = []
  for (const [i, start] of starts.entries()) {
    appendMark(marks, { index: i * 100, intervalSec: 1e-3, ...start })
  }
  return marks
}

test('keeps one mark for blocks that follow evenly', () => {
  const marks = marksOf([0, 1, 2].map(i => ({ sequence: i * 100, startSec: i * 0.1 })))
  expect(marks).toHaveLength(1)
  expect(timeOfSample(marks, 250)).toBeCloseTo(0.25, 12)
})

test('starts anew at a gap in the sequence', () => {
  const marks = marksOf([
    { sequence: 0, startSec: 0 },
    { sequence: 150, startSec: 0.15 },
  ])
  expect(marks).toHaveLength(2)
  expect(sequenceOfSample(marks, 99)).toBe(99)
  expect(sequenceOfSample(marks, 100)).toBe(150)
  expect(timeOfSample(marks, 101)).toBeCloseTo(0.151, 12)
})

test('never strays from the stamps of a drifting clock by more than half its tick', () => {
  const uniform = seededUniform(4)
  const starts = Array.from({ length: 500 }, (_, i) => ({
    sequence: i * 100,
    startSec: Math.round(i * 0.1 * (1 + 3e-7 * i) * 1e6 + uniform() - 0.5) / 1e6,
  }))
  const marks = marksOf(starts)
  expect(marks.length).toBeGreaterThan(10)
  expect(marks.length).toBeLessThan(starts.length)
  for (const [i, { startSec }] of starts.entries()) {
    expect(Math.abs(timeOfSample(marks, i * 100) - startSec)).toBeLessThanOrEqual(
      MARK_TOLERANCE_SEC * 1.000001,
    )
  }
})

const gapped = marksOf([
  { sequence: 10, startSec: 0 },
  { sequence: 150, startSec: 0.5 },
  { sequence: 400, startSec: 0.9 },
])

test.each([
  [0, 300],
  [50, 250],
  [100, 200],
  [130, 131],
  [299, 300],
])('samples %s to %s cut out keep their times and numbers', (from, to) => {
  const cut = sliceMarks(gapped, from, to)
  for (let i = from; i < to; i++) {
    expect(timeOfSample(cut, i - from)).toBe(timeOfSample(gapped, i))
    expect(sequenceOfSample(cut, i - from)).toBe(sequenceOfSample(gapped, i))
  }
})

test('fills a stretch of times', () => {
  const times = new Float64Array(5).fill(-1)
  fillTimes(gapped, 98, 101, times, 1)
  const expected = [-1, 0.098, 0.099, 0.5, -1]
  for (const [i, time] of times.entries()) expect(time).toBeCloseTo(expected[i]!, 12)
})

test('finds the mark that holds', () => {
  expect([0, 99, 100, 199, 200, 299].map(i => markFor(gapped, i))).toEqual([0, 0, 1, 1, 2, 2])
})
