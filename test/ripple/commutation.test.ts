import { describe, expect, test } from 'vitest'
import { ripplesPerTurn, torqueRippleShare } from '../../src/ripple/commutation.ts'
import { expectRelative } from '../support/expect-relative.ts'

const BOOK =
  'A. Al Mamun, G. Guo, C. Bi, Hard Disk Drive: Mechatronics and Control (2007), eqs 4.44-4.46'

test.each([
  // Share of the mean, peak to peak; from the book's mean-to-maximum ratio and its minimum.
  [3, 6, 0.140298],
  [4, 4, 0.325323],
  [5, 10, 0.049758],
  [8, 8, 0.078113],
  [11, 22, 0.010213],
  [16, 16, 0.019339],
])(`%d coils: %d ripples a turn, torque ripple %d (${BOOK})`, (coils, ripples, share) => {
  expect(ripplesPerTurn(coils)).toBe(ripples)
  expectRelative(torqueRippleShare(coils), share, 5e-5)
})

test('3 coils 14 %, 11 coils 1 % (common practice, no source)', () => {
  expect(Math.round(100 * torqueRippleShare(3))).toBe(14)
  expect(Math.round(100 * torqueRippleShare(11))).toBe(1)
})

describe('more poles', () => {
  test.each([
    [7, 2, 28],
    [6, 2, 12],
    [12, 2, 12],
    [5, 3, 30],
  ])(
    '%d segments, %d pole pairs: edges and brushes coincide %d times a turn (counted)',
    (segments, pairs, ripples) => {
      const instants = new Set<number>()
      for (let edge = 0; edge < segments; edge++) {
        for (let brush = 0; brush < 2 * pairs; brush++) {
          // In units of 1/(2 p N) of a turn both stand on whole numbers.
          instants.add((edge * 2 * pairs + brush * segments) % (2 * pairs * segments))
        }
      }
      expect(ripplesPerTurn(segments, pairs)).toBe(ripples)
      expect(instants.size).toBe(ripples)
    },
  )

  test.each([0, 1, 2.5, Number.NaN])('%d segments are refused', segments => {
    expect(() => ripplesPerTurn(segments)).toThrow('segments')
  })
})
