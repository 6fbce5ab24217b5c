import { BYTE } from './wire.ts'

/**
 * The one rule for text that came over a wire and will be shown: printable ASCII stands for itself,
 * every other byte (control characters, terminal escapes, halves of anything) becomes `\xNN`, and
 * what is longer than `limit` is cut with its length said.
 */
export function printableBytes(
  bytes: Uint8Array,
  start = 0,
  end = bytes.length,
  limit = 160,
): string {
  const stop = Math.min(end, start + limit)
  let text = ''
  for (let i = start; i < stop; i++) {
    const byte = bytes[i]!
    text += isPrintable(byte)
      ? String.fromCharCode(byte)
      : `\\x${byte.toString(16).toUpperCase().padStart(2, '0')}`
  }
  return stop < end ? `${text}… (${end - start} bytes)` : text
}

export function isPrintable(byte: number): boolean {
  return byte >= BYTE.space && byte <= BYTE.tilde
}
