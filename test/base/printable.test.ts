import { expect, test } from 'vitest'
import { printable } from '../../src/base/printable.ts'

const cases: [name: string, text: string, shown: string][] = [
  ['leaves words of any language alone', 'Motor Größe 3 モータ 😀', 'Motor Größe 3 モータ 😀'],
  ['shows terminal escapes instead of sending them', '\u001b[2Jgone', '\\x1b[2Jgone'],
  ['shows line ends and bells', 'a\r\nb\u0007', 'a\\x0d\\x0ab\\x07'],
  ['shows eight-bit control characters', '\u009b31m', '\\x9b31m'],
  ['shows overrides of the writing direction', 'gpj.\u202eexe', 'gpj.\\u{202e}exe'],
]
test.each(cases)('%s', (_name, text, shown) => {
  expect(printable(text)).toBe(shown)
})

test('cuts what is too long for a line and says so', () => {
  expect(printable('x'.repeat(500), 10)).toBe('xxxxxxxxxx…')
})
