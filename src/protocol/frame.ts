import { crc16, crcText } from './crc.ts'
import type { LineFault } from './line-fault.ts'
import { isPrintable } from './printable.ts'
import { BYTE } from './wire.ts'

/** `*`, four digits. */
const TAIL_BYTES = 5

/** Where the body of a line ends, given that `checkFrame` had nothing against it. */
export const bodyEnd = (end: number): number => end - TAIL_BYTES

/**
 * Whether `bytes[start … end)`, a line without its end, is closed by the checksum of what stands
 * before (P-3.3). Null when it is. Says nothing about the characters of the body where it is.
 */
export function checkFrame(bytes: Uint8Array, start: number, end: number): LineFault | null {
  const star = bodyEnd(end)
  if (star <= start || bytes[star] !== BYTE.star) {
    return strangeCharacter(bytes, start, end) ?? { code: 'no-checksum' }
  }
  let received = 0
  for (let i = star + 1; i < end; i++) {
    const digit = HEX[bytes[i]!]!
    if (digit > 15) return strangeCharacter(bytes, start, end) ?? { code: 'no-checksum' }
    received = (received << 4) | digit
  }
  const expected = crc16(bytes, start, star)
  if (expected === received) return null
  return (
    strangeCharacter(bytes, start, end) ?? {
      code: 'checksum',
      expected: crcText(expected),
      received: crcText(received),
    }
  )
}

const HEX = new Uint8Array(256).fill(255)
for (let digit = 0; digit < 16; digit++) {
  HEX[digit.toString(16).toUpperCase().charCodeAt(0)] = digit
}

function strangeCharacter(bytes: Uint8Array, start: number, end: number): LineFault | null {
  for (let i = start; i < end; i++) {
    if (!isPrintable(bytes[i]!)) return { code: 'character', at: i - start, byte: bytes[i]! }
  }
  return null
}

/** The body as text, or the first byte that cannot stand in one (P-3.2). */
export function bodyText(bytes: Uint8Array, start: number, end: number): string | LineFault {
  let text = ''
  for (let i = start; i < end; i++) {
    const byte = bytes[i]!
    if (!isPrintable(byte) || byte === BYTE.star) return { code: 'character', at: i - start, byte }
    text += String.fromCharCode(byte)
  }
  return text
}

/** Closes the line that begins at `start`: writes `*`, checksum and line feed at `end`; returns the position after. */
export function closeLine(target: Uint8Array, start: number, end: number): number {
  const crc = crc16(target, start, end)
  target[end] = BYTE.star
  for (let k = 0; k < 4; k++) target[end + 1 + k] = HEX_DIGITS[(crc >> (12 - 4 * k)) & 15]!
  target[end + TAIL_BYTES] = BYTE.lineFeed
  return end + TAIL_BYTES + 1
}

const HEX_DIGITS = Uint8Array.from('0123456789ABCDEF', digit => digit.charCodeAt(0))

/** The whole line of a body, ready to send. Throws RangeError on a body that a line cannot hold. */
export function lineOf(body: string): Uint8Array {
  const line = new Uint8Array(body.length + TAIL_BYTES + 1)
  for (let i = 0; i < body.length; i++) {
    const code = body.charCodeAt(i)
    if (code > 0xff || !isPrintable(code) || code === BYTE.star) {
      throw new RangeError(`body '${body}'; must be printable ASCII without *`)
    }
    line[i] = code
  }
  closeLine(line, 0, body.length)
  return line
}
