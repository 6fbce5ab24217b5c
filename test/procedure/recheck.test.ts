import { expect, test } from 'vitest'
import { tenths } from '../../src/procedure/steps/recheck.ts'

test.each([
  [-0.04, '0.0'],
  [0.04, '0.0'],
  [-0.06, '-0.1'],
  [1.25, '1.3'],
  [-12, '-12.0'],
])('%d reads %s: what rounds to nil has no sign', (value, text) => {
  expect(tenths(value)).toBe(text)
})
