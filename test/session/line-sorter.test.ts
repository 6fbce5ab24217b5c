import { expect, test } from 'vitest'
import { LineSorter } from '../../server/session/line-sorter.ts'
import { seededUniform } from '../../src/base/random.ts'

function sort(pieces: readonly string[]): string[] {
  const lines: string[] = []
  const sorter = new LineSorter((bytes, start, end) =>
    lines.push(Buffer.from(bytes.subarray(start, end)).toString('latin1')),
  )
  for (const piece of pieces) sorter.push(Buffer.from(piece, 'latin1'))
  sorter.end()
  return lines
}

test('hands over text and blocks in the order in which they came', () => {
  expect(sort(['A 1 OK\nB 0 0 1 AAAA\nE 1 2 boot\nU 0 0 1 AAAA\nS 1 2 3\n'])).toEqual([
    'A 1 OK\n',
    'B 0 0 1 AAAA\n',
    'E 1 2 boot\n',
    'U 0 0 1 AAAA\n',
    'S 1 2 3\n',
  ])
})

test('finds the same lines however the bytes are cut', () => {
  const uniform = seededUniform(3)
  const text = Array.from(
    { length: 400 },
    (_, k) => `${'AEBS'[k % 4]} ${k} ${'x'.repeat(Math.floor(200 * uniform()))}\n`,
  ).join('')
  const whole = sort([text])
  expect(whole).toHaveLength(400)
  for (let trial = 0; trial < 50; trial++) {
    const pieces: string[] = []
    for (let at = 0; at < text.length; ) {
      const to = at + 1 + Math.floor(900 * uniform() ** 3)
      pieces.push(text.slice(at, to))
      at = to
    }
    expect(sort(pieces)).toEqual(whole)
  }
})

test('keeps bytes above 127 as they are, for the checksum to judge', () => {
  expect(sort(['A \u00e9\u00ff\n'])).toEqual(['A \u00e9\u00ff\n'])
})

test('passes an endless line on as it comes instead of holding it, and finds the next', () => {
  const lines = sort([
    'A start',
    ...Array.from({ length: 300 }, () => 'x'.repeat(4000)),
    '\nA next\n',
  ])
  expect(lines.at(-1)).toBe('A next\n')
  expect(lines.slice(0, -1).join('')).toBe(`A start${'x'.repeat(1_200_000)}\n`)
})

test('hands a partial line over at the end, for the reader to reject', () => {
  expect(sort(['A 1 OK\nA 2'])).toEqual(['A 1 OK\n', 'A 2'])
})
