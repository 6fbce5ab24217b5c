import { describe, expect, test } from 'vitest'
import { seededUniform } from '../../src/base/random.ts'
import { decodeWords, encodedLength, encodeWords } from '../../src/protocol/base64.ts'

const text = (bytes: Uint8Array) => String.fromCharCode(...bytes)
const bytesOf = (letters: string) => Uint8Array.from(letters, l => l.charCodeAt(0))

function encode(words: readonly number[]): string {
  const target = new Uint8Array(encodedLength(words.length))
  expect(encodeWords(words, 0, words.length, target, 0)).toBe(target.length)
  return text(target)
}

function decode(letters: string, words: number): number[] | null {
  const target = new Int32Array(words)
  const good = decodeWords(bytesOf(letters), 0, letters.length, words, target)
  return good ? [...target] : null
}

describe('counts as base64', () => {
  // P-6.5
  const published = [
    { plain: 'fo', letters: 'Zm8=' },
    { plain: 'foob', letters: 'Zm9vYg==' },
    { plain: 'foobar', letters: 'Zm9vYmFy' },
  ]
  test.each(published)("'$plain' is $letters (RFC 4648 section 10)", ({ plain, letters }) => {
    const words = []
    for (let i = 0; i < plain.length; i += 2) {
      words.push(plain.charCodeAt(i) | (plain.charCodeAt(i + 1) << 8))
    }
    expect(encode(words)).toBe(letters)
    expect(decode(letters, words.length)).toEqual(words)
  })

  test("comes out as Node's own base64 does, and back, for 300 seeded lengths and contents", () => {
    const uniform = seededUniform(11)
    for (let n = 1; n <= 300; n++) {
      const words = Array.from({ length: n }, () => Math.floor(uniform() * 65_536))
      const letters = encode(words)
      expect(letters).toBe(Buffer.from(Uint16Array.from(words).buffer).toString('base64'))
      expect(decode(letters, n)).toEqual(Array.from(Int16Array.from(words)))
    }
  })

  test('takes negative counts by their low sixteen bits', () => {
    expect(encode([-1, -32_768])).toBe(encode([0xffff, 0x8000]))
  })

  const refused = [
    { letters: 'Zm8=', words: 2, why: 'one word where two are announced' },
    { letters: 'Zm9v', words: 1, why: 'no padding where there must be one' },
    { letters: 'Zm9=', words: 1, why: 'unused bits that are not zero' },
    { letters: 'Z=8=', words: 1, why: 'padding inside' },
    { letters: 'Zm_v', words: 1, why: 'a letter of the other alphabet' },
    { letters: 'Zm8', words: 1, why: 'too short' },
  ]
  test.each(refused)('refuses $why', ({ letters, words }) => {
    expect(decode(letters, words)).toBeNull()
  })
})
