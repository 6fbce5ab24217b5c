/** Bytes that one step takes in: what each leaves of the checksum does not wait for the others. */
const STEP_BYTES = 8

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

/** Checksum of `bytes[start … end)`; eight bytes a step, for every byte of the line goes through here. */
export function crc16(bytes: Uint8Array, start = 0, end = bytes.length): number {
  let crc = 0xffff
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

/** As the line carries it: four upper-case hexadecimal digits. */
export function crcText(crc: number): string {
  return crc.toString(16).toUpperCase().padStart(4, '0')
}
