/** Bytes that one step takes in: what each leaves of the checksum does not wait for the others. */
const STEP_BYTES = 8
const START = 0xffff

/**
 * CRC-16/IBM-3740, widely called CRC-16/CCITT-FALSE: polynomial x^16 + x^12 + x^5 + 1 (0x1021),
 * start value 0xFFFF, most significant bit first, nothing inverted at the end.
 * Source: G. Cook, Catalogue of parametrised CRC algorithms (reveng), where '123456789' gives 0x29B1.
 *
 * At `256 * k + byte` stands what a byte leaves after `k` more have passed.
 */
const LEFT = new Uint16Array(256 * STEP_BYTES)
for (let byte = 0; byte < 256; byte++) {
  let crc = byte << 8
  for (let bit = 0; bit < 8; bit++) crc = crc & 0x8000 ? (crc << 1) ^ 0x1021 : crc << 1
  LEFT[byte] = crc
}
for (let at = 256; at < LEFT.length; at++) {
  const before = LEFT[at - 256]!
  LEFT[at] = (before << 8) ^ LEFT[before >> 8]!
}

/** Checksum of `bytes[start … end)`; every byte that a rig sends goes through here. */
export function crc16(bytes: Uint8Array, start = 0, end = bytes.length): number {
  const offset = bytes.byteOffset
  const first = (offset + start + 3) >>> 2
  const last = (offset + end) >>> 2
  if (last - first < LEAST_WORDS) return passed(START, bytes, start, end)
  const crc = passed(START, bytes, start, 4 * first - offset)
  folded(crc, wordsOf(bytes), first, last)
  return passed(passed(0, inHandBytes, 0, 4 * IN_HAND), bytes, 4 * last - offset, end)
}

/** The checksum after `bytes[start … end)`, eight bytes a step. */
function passed(before: number, bytes: Uint8Array, start: number, end: number): number {
  let crc = before
  let i = start
  for (; i + STEP_BYTES <= end; i += STEP_BYTES) {
    crc =
      LEFT[0x700 + ((crc >> 8) ^ bytes[i]!)]! ^
      LEFT[0x600 + ((crc & 0xff) ^ bytes[i + 1]!)]! ^
      LEFT[0x500 + bytes[i + 2]!]! ^
      LEFT[0x400 + bytes[i + 3]!]! ^
      LEFT[0x300 + bytes[i + 4]!]! ^
      LEFT[0x200 + bytes[i + 5]!]! ^
      LEFT[0x100 + bytes[i + 6]!]! ^
      LEFT[bytes[i + 7]!]!
  }
  for (; i < end; i++) crc = ((crc << 8) & 0xffff) ^ LEFT[(crc >> 8) ^ bytes[i]!]!
  return crc
}

/** Words of four bytes that `folded` leaves over. */
const IN_HAND = 16
/** Below this, what `folded` takes to begin and to end is more than it saves. */
const LEAST_WORDS = 3 * IN_HAND

const inHand = new Int32Array(IN_HAND)
const inHandBytes = new Uint8Array(inHand.buffer)

/** Made anew only where the memory is another. */
let view: Int32Array = new Int32Array(0)

function wordsOf({ buffer }: Uint8Array): Int32Array {
  if (view.buffer !== buffer) view = new Int32Array(buffer, 0, buffer.byteLength >>> 2)
  return view
}

/**
 * Leaves in `inHand` sixteen words with the same checksum (of start value 0) as `words[from … to)` has after
 * `before`. Over GF(2) a square has as many terms as its root: the polynomial to its 32nd power is
 * x^512 + x^384 + x^160 + 1, so the word in front may be dropped where it is added to those 4, 11 and 16
 * behind it. No table is looked into, and a word takes three additions.
 */
function folded(before: number, words: Int32Array, from: number, to: number): void {
  const odd = (to - from) % IN_HAND
  inHand.fill(0)
  const front = (IN_HAND - odd) % IN_HAND
  inHandBytes[4 * front] = before >> 8
  inHandBytes[4 * front + 1] = before & 0xff
  let at = from
  for (let j = IN_HAND - odd; j < IN_HAND; j++, at++) {
    inHand[j]! ^= words[at]! ^ (j < 4 ? 0 : inHand[j - 4]!) ^ (j < 11 ? 0 : inHand[j - 11]!)
  }
  let w0 = inHand[0]!
  let w1 = inHand[1]!
  let w2 = inHand[2]!
  let w3 = inHand[3]!
  let w4 = inHand[4]!
  let w5 = inHand[5]!
  let w6 = inHand[6]!
  let w7 = inHand[7]!
  let w8 = inHand[8]!
  let w9 = inHand[9]!
  let w10 = inHand[10]!
  let w11 = inHand[11]!
  let w12 = inHand[12]!
  let w13 = inHand[13]!
  let w14 = inHand[14]!
  let w15 = inHand[15]!
  const last = to - IN_HAND
  for (; at < last; at += IN_HAND) {
    w0 ^= words[at]! ^ w12 ^ w5
    w1 ^= words[at + 1]! ^ w13 ^ w6
    w2 ^= words[at + 2]! ^ w14 ^ w7
    w3 ^= words[at + 3]! ^ w15 ^ w8
    w4 ^= words[at + 4]! ^ w0 ^ w9
    w5 ^= words[at + 5]! ^ w1 ^ w10
    w6 ^= words[at + 6]! ^ w2 ^ w11
    w7 ^= words[at + 7]! ^ w3 ^ w12
    w8 ^= words[at + 8]! ^ w4 ^ w13
    w9 ^= words[at + 9]! ^ w5 ^ w14
    w10 ^= words[at + 10]! ^ w6 ^ w15
    w11 ^= words[at + 11]! ^ w7 ^ w0
    w12 ^= words[at + 12]! ^ w8 ^ w1
    w13 ^= words[at + 13]! ^ w9 ^ w2
    w14 ^= words[at + 14]! ^ w10 ^ w3
    w15 ^= words[at + 15]! ^ w11 ^ w4
  }
  inHand[0] = w0
  inHand[1] = w1
  inHand[2] = w2
  inHand[3] = w3
  inHand[4] = w4
  inHand[5] = w5
  inHand[6] = w6
  inHand[7] = w7
  inHand[8] = w8
  inHand[9] = w9
  inHand[10] = w10
  inHand[11] = w11
  inHand[12] = w12
  inHand[13] = w13
  inHand[14] = w14
  inHand[15] = w15
  // The last sixteen are not dropped themselves.
  for (let j = 0; j < IN_HAND; j++) rest[j] = words[last + j]! ^ inHand[j]!
  for (let j = 0; j < 4; j++) rest[j]! ^= inHand[j + 12]!
  for (let j = 0; j < 11; j++) rest[j]! ^= inHand[j + 5]!
  inHand.set(rest)
}

const rest = new Int32Array(IN_HAND)

/** As the line carries it: four upper-case hexadecimal digits. */
export function crcText(crc: number): string {
  return crc.toString(16).toUpperCase().padStart(4, '0')
}
