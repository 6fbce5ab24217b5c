import { describe, expect, test } from 'vitest'
import { seededUniform } from '../../src/base/random.ts'
import type { LineFault } from '../../src/protocol/line-fault.ts'
import { LineSplitter } from '../../src/protocol/line-splitter.ts'

function splitter(maxLineBytes?: number) {
  const lines: string[] = []
  const faults: LineFault[] = []
  const split = new LineSplitter(
    {
      line: (bytes, start, end) => lines.push(Buffer.from(bytes.subarray(start, end)).toString()),
      reject: fault => faults.push(fault),
    },
    maxLineBytes,
  )
  return { split, lines, faults }
}

const bytesOf = (text: string) => new TextEncoder().encode(text)

describe('cutting bytes into lines', () => {
  // P-3.1
  test('drops one carriage return before the line feed, and empty lines', () => {
    const { split, lines, faults } = splitter()
    split.push(bytesOf('one\r\n\r\n\ntwo\r\r\nthree\n'))
    expect(lines).toEqual(['one', 'two\r', 'three'])
    expect(faults).toEqual([])
  })

  test('gives the same lines however the bytes are cut into chunks', () => {
    const text = Array.from({ length: 200 }, (_, i) => 'x'.repeat(i % 50) + i).join('\n')
    const uniform = seededUniform(3)
    const { split, lines } = splitter()
    let rest = bytesOf(`${text}\n`)
    while (rest.length > 0) {
      const size = 1 + Math.floor(uniform() * 40)
      split.push(rest.subarray(0, size))
      rest = rest.subarray(size)
    }
    expect(lines).toEqual(text.split('\n'))
  })

  test('takes 1023 bytes and a line feed, and not one byte more', () => {
    for (const oneChunk of [true, false]) {
      const { split, lines, faults } = splitter()
      const text = `${'a'.repeat(1023)}\n${'b'.repeat(1024)}\nnext\n`
      if (oneChunk) split.push(bytesOf(text))
      else for (const byte of bytesOf(text)) split.push(Uint8Array.of(byte))
      expect(lines).toEqual(['a'.repeat(1023), 'next'])
      expect(faults).toEqual([{ code: 'too-long', bytes: 1024 }])
    }
  })

  test('holds a bounded number of bytes when no line feed comes for ten megabytes', () => {
    const { split, lines, faults } = splitter()
    const chunk = new Uint8Array(65_536).fill(0x61)
    for (let i = 0; i < 160; i++) split.push(chunk)
    split.push(bytesOf('\nnext\n'))
    expect(faults).toEqual([{ code: 'too-long', bytes: 160 * 65_536 }])
    expect(lines).toEqual(['next'])
  })

  test('reports a tail without line feed as truncated, and never as a line', () => {
    const { split, lines, faults } = splitter()
    split.push(bytesOf('whole\nhal'))
    split.end()
    split.push(bytesOf('f\n'))
    expect(lines).toEqual(['whole', 'f'])
    expect(faults).toEqual([{ code: 'truncated', bytes: 3 }])
  })

  test('forgets a partial line when told that the port was opened anew', () => {
    const { split, lines, faults } = splitter()
    split.push(bytesOf('old'))
    split.forget()
    split.push(bytesOf('new\n'))
    expect(lines).toEqual(['new'])
    expect(faults).toEqual([])
  })
})
