/**
 * 16-bit words as base64 (RFC 4648 section 4, with padding), low byte of each word first.
 * On bytes, so that a block of samples never becomes a string.
 */
const ALPHABET = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/'
const PADDING = 0x3d
const INVALID = 0xff

const TO_BYTE = Uint8Array.from(ALPHABET, letter => letter.charCodeAt(0))
const TO_SIX = new Uint8Array(256).fill(INVALID)
for (let six = 0; six < 64; six++) TO_SIX[TO_BYTE[six]!] = six

/** Characters that `words` 16-bit words take. */
export const encodedLength = (words: number): number => 4 * Math.ceil((2 * words) / 3)

/** Writes `words` numbers of `source` (their low 16 bits) at `at`; returns the position after them. */
export function encodeWords(
  source: ArrayLike<number>,
  from: number,
  words: number,
  target: Uint8Array,
  at: number,
): number {
  const byteCount = 2 * words
  const byteAt = (k: number) =>
    k < byteCount ? (source[from + (k >> 1)]! >> (k & 1 ? 8 : 0)) & 0xff : 0
  let out = at
  for (let k = 0; k < byteCount; k += 3) {
    const three = (byteAt(k) << 16) | (byteAt(k + 1) << 8) | byteAt(k + 2)
    target[out] = TO_BYTE[three >> 18]!
    target[out + 1] = TO_BYTE[(three >> 12) & 63]!
    target[out + 2] = k + 1 < byteCount ? TO_BYTE[(three >> 6) & 63]! : PADDING
    target[out + 3] = k + 2 < byteCount ? TO_BYTE[three & 63]! : PADDING
    out += 4
  }
  return out
}

/**
 * Exactly `words` 16-bit words from `bytes[start … end)` as −32768 … 32767, valid until the next call. Null where
 * length, letters, padding or unused bits are not those of that many words.
 */
export type WordDecoder = (
  bytes: Uint8Array,
  start: number,
  end: number,
  words: number,
) => Int16Array | null

/** The decoder where the platform has no faster one. */
export const decodeWords: WordDecoder = (bytes, start, end, words) => {
  if (!endsAsWordsDo(bytes, start, end, words)) return null
  const lettersEnd = end - paddingOf(words)
  const decoded = new Int16Array(words)
  let word = 0
  let seen = 0
  let held = 0
  let bits = 0
  for (let i = start; i < lettersEnd; i++) {
    const six = TO_SIX[bytes[i]!]!
    seen |= six
    held = ((held << 6) | six) & 0xfffff
    bits += 6
    if (bits >= 16) {
      bits -= 16
      const pair = (held >> bits) & 0xffff
      decoded[word++] = (pair << 8) | (pair >> 8)
    }
  }
  return seen < 64 ? decoded : null
}

/**
 * Whether `bytes[start … end)` is as long as that many words are, has the padding that they need and no more,
 * and leaves the bits that no word takes at zero. Says nothing about the letters before.
 */
export function endsAsWordsDo(
  bytes: Uint8Array,
  start: number,
  end: number,
  words: number,
): boolean {
  if (end - start !== encodedLength(words)) return false
  const padding = paddingOf(words)
  for (let k = 1; k <= padding; k++) if (bytes[end - k] !== PADDING) return false
  const unused = (1 << (2 * padding)) - 1
  return words === 0 || (TO_SIX[bytes[end - padding - 1]!]! & unused) === 0
}

const paddingOf = (words: number): number => (3 - ((2 * words) % 3)) % 3
