/**
 * 16-bit words as base64 (RFC 4648 section 4, with padding), low byte of each word first.
 * On bytes, so that a block of samples never becomes a string.
 */
const ALPHABET = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/'
const PADDING = 0x3d
const INVALID = 0xff
/** A bit that no pair of letters has. */
const INVALID_PAIR = 0x1000

const TO_BYTE = Uint8Array.from(ALPHABET, letter => letter.charCodeAt(0))
const TO_SIX = new Uint8Array(256).fill(INVALID)
for (let six = 0; six < 64; six++) TO_SIX[TO_BYTE[six]!] = six

/**
 * Two letters, the first in the low byte, and the twelve bits that they stand for, twice: in the low half as
 * they are, in the high half with the first eight below the last four, as they begin a word.
 */
const TO_TWELVE = new Int32Array(0x10000).fill(INVALID_PAIR)
for (let first = 0; first < 64; first++) {
  for (let second = 0; second < 64; second++) {
    const twelve = (first << 6) | second
    TO_TWELVE[TO_BYTE[first]! | (TO_BYTE[second]! << 8)] =
      (twelve << 28) | ((twelve >> 4) << 16) | twelve
  }
}

/** Four letters in one reading, and the bounds looked at once; made anew only where the memory is another. */
let view: DataView = new DataView(new ArrayBuffer(0))

function viewOf({ buffer }: Uint8Array): DataView {
  if (view.buffer !== buffer) view = new DataView(buffer)
  return view
}

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
 * Reads exactly `words` 16-bit words from `bytes[start … end)` into `target` as −32768 … 32767.
 * False where length, letters, padding or unused bits are not those of that many words.
 */
export function decodeWords(
  bytes: Uint8Array,
  start: number,
  end: number,
  words: number,
  target: Int32Array,
): boolean {
  if (end - start !== encodedLength(words)) return false
  const byteCount = 2 * words
  const padding = (3 - (byteCount % 3)) % 3
  if (padding > 0 && bytes[end - 1] !== PADDING) return false
  if (padding > 1 && bytes[end - 2] !== PADDING) return false
  let word = 0
  const letters = viewOf(bytes)
  const at = bytes.byteOffset
  let seenPairs = 0
  let i = start
  // Eight letters are six bytes are three words; the loop after this one does the rest.
  for (; i + 8 <= end - padding; i += 8) {
    const left = letters.getInt32(at + i, true)
    const right = letters.getInt32(at + i + 4, true)
    const a = TO_TWELVE[left & 0xffff]!
    const b = TO_TWELVE[left >>> 16]!
    const c = TO_TWELVE[right & 0xffff]!
    const d = TO_TWELVE[right >>> 16]!
    seenPairs |= a | b | c | d
    target[word] = (a >> 16) | (b & 0xf00)
    target[word + 1] = (b & 0xff) | (((c << 20) >> 16) & ~0xff)
    target[word + 2] = ((c & 0xf) << 4) | ((d >> 8) & 0xf) | ((d << 24) >> 16)
    word += 3
  }
  let seen = 0
  let held = 0
  let bits = 0
  for (; i < end - padding; i++) {
    const six = TO_SIX[bytes[i]!]!
    seen |= six
    held = ((held << 6) | six) & 0xfffff
    bits += 6
    if (bits >= 16) {
      bits -= 16
      const pair = (held >> bits) & 0xffff
      target[word++] = (((pair << 24) >> 24) << 8) | (pair >> 8)
    }
  }
  return (seenPairs & INVALID_PAIR) === 0 && seen < 64 && (held & ((1 << bits) - 1)) === 0
}
