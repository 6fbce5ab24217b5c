import { describe, expect, test } from 'vitest'
import { crc16, crcText } from '../../src/protocol/crc.ts'

const bytesOf = (text: string) => new TextEncoder().encode(text)

/** Bit by bit, as the definition reads, without a table. */
function crcByDefinition(bytes: Uint8Array): number {
  let crc = 0xffff
  for (const byte of bytes) {
    for (let bit = 7; bit >= 0; bit--) {
      const feed = ((crc >> 15) & 1) ^ ((byte >> bit) & 1)
      crc = (crc << 1) & 0xffff
      if (feed) crc ^= 0x1021
    }
  }
  return crc
}

describe('the checksum of a line', () => {
  // P-3.3
  const checks = [
    {
      text: '123456789',
      crc: 0x29b1,
      source: 'G. Cook, Catalogue of parametrised CRC algorithms (reveng), CRC-16/IBM-3740: check',
    },
    {
      text: '',
      crc: 0xffff,
      source: 'the same catalogue: start value, nothing inverted at the end',
    },
  ]
  test.each(checks)("'$text' gives $crc ($source)", ({ text, crc }) => {
    expect(crc16(bytesOf(text))).toBe(crc)
  })

  test('leaves nothing over a line followed by its own checksum (catalogue: residue 0x0000)', () => {
    for (const text of ['123456789', 'Q 1 identify', 'x']) {
      const crc = crc16(bytesOf(text))
      const closed = Uint8Array.from([...bytesOf(text), crc >> 8, crc & 0xff])
      expect(crc16(closed)).toBe(0)
    }
  })

  test('agrees with its definition taken bit by bit, for every byte and over a range', () => {
    const bytes = Uint8Array.from({ length: 512 }, (_, i) => (i * 7) & 0xff)
    expect(crc16(bytes)).toBe(crcByDefinition(bytes))
    expect(crc16(bytes, 100, 300)).toBe(crcByDefinition(bytes.subarray(100, 300)))
  })

  test('agrees with it for every length, wherever in memory the bytes begin', () => {
    const memory = Uint8Array.from({ length: 700 }, (_, i) => (i * i * 31 + i * 7) & 0xff)
    for (let start = 0; start < 9; start++) {
      const bytes = new Uint8Array(memory.buffer, start)
      for (let end = 1; end <= 600; end += end < 300 ? 1 : 7) {
        expect(crc16(bytes, 1, end), `${start}, ${end}`).toBe(
          crcByDefinition(bytes.subarray(1, end)),
        )
      }
    }
  })

  test('is written as four upper-case digits', () => {
    expect(crcText(0x00b1)).toBe('00B1')
    expect(crcText(0xffff)).toBe('FFFF')
  })
})
