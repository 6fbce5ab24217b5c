import { describe, expect, test } from 'vitest'
import { nativeWords } from '../../server/session/native-words.ts'
import { seededUniform } from '../../src/base/random.ts'
import {
  decodeWords,
  encodedLength,
  encodeWords,
  type WordDecoder,
} from '../../src/protocol/base64.ts'

const text = (bytes: Uint8Array) => String.fromCharCode(...bytes)
const bytesOf = (letters: string) => Uint8Array.from(letters, l => l.charCodeAt(0))

function encode(words: readonly number[]): string {
  const target = new Uint8Array(encodedLength(words.length))
  expect(encodeWords(words, 0, words.length, target, 0)).toBe(target.length)
  return text(target)
}

function decode(decoder: WordDecoder, letters: string, words: number): number[] | null {
  const decoded = decoder(bytesOf(letters), 0, letters.length, words)
  return decoded && [...decoded]
}

test('takes negative counts by their low sixteen bits', () => {
  expect(encode([-1, -32_768])).toBe(encode([0xffff, 0x8000]))
})

const decoders = [
  { name: 'our own decoder', decoder: decodeWords },
  { name: "Node's", decoder: nativeWords },
]
describe.each(decoders)('counts as base64 through $name', ({ decoder }) => {
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
    expect(decode(decoder, letters, words.length)).toEqual(words)
  })

  test("comes out as Node's own base64 does, and back, for 300 seeded lengths and contents", () => {
    const uniform = seededUniform(11)
    for (let n = 1; n <= 300; n++) {
      const words = Array.from({ length: n }, () => Math.floor(uniform() * 65_536))
      const letters = encode(words)
      expect(letters).toBe(Buffer.from(Uint16Array.from(words).buffer).toString('base64'))
      expect(decode(decoder, letters, n)).toEqual(Array.from(Int16Array.from(words)))
    }
  })

  const refused = [
    { letters: 'Zm8=', words: 2, why: 'one word where two are announced' },
    { letters: 'Zm9v', words: 1, why: 'no padding where there must be one' },
    { letters: 'Zm9=', words: 1, why: 'unused bits that are not zero' },
    { letters: 'Z=8=', words: 1, why: 'padding inside' },
    { letters: 'Zm_v', words: 1, why: 'a letter of the other alphabet' },
    { letters: 'Zm-v', words: 1, why: 'the other letter of that alphabet' },
    { letters: 'Z 9vYmFy', words: 3, why: 'a space inside' },
    { letters: 'Zm9vYmF\u00f2', words: 3, why: 'a byte beyond ASCII' },
    { letters: 'Zm8', words: 1, why: 'too short' },
  ]
  test.each(refused)('refuses $why', ({ letters, words }) => {
    expect(decode(decoder, letters, words)).toBeNull()
  })
})

test('both decoders say the same of 100 000 seeded payloads with a wrong byte or two', () => {
  const uniform = seededUniform(12)
  const below = (n: number) => Math.floor(uniform() * n)
  let good = 0
  for (let round = 0; round < 100_000; round++) {
    const words = Array.from({ length: 1 + below(12) }, () => below(65_536))
    const bytes = bytesOf(encode(words))
    for (let k = below(3); k > 0; k--) bytes[below(bytes.length)] = below(256)
    const [own, native] = [decodeWords, nativeWords].map(decoder => {
      const decoded = decoder(bytes, 0, bytes.length, words.length)
      return decoded && [...decoded]
    })
    expect(native).toEqual(own)
    if (own) good++
  }
  expect(good).toBeGreaterThan(20_000)
  expect(good).toBeLessThan(80_000)
})
