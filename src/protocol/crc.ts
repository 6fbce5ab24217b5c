/**
 * CRC-16/IBM-3740, widely called CRC-16/CCITT-FALSE: polynomial x^16 + x^12 + x^5 + 1 (0x1021),
 * start value 0xFFFF, most significant bit first, nothing inverted at the end.
 * Source: G. Cook, Catalogue of parametrised CRC algorithms (reveng), where '123456789' gives 0x29B1.
 */
const TABLE = Uint16Array.from({ length: 256 }, (_, byte) => {
  let crc = byte << 8
  for (let bit = 0; bit < 8; bit++) crc = crc & 0x8000 ? (crc << 1) ^ 0x1021 : crc << 1
  return crc & 0xffff
})

/** Checksum of `bytes[start … end)`. */
export function crc16(bytes: Uint8Array, start = 0, end = bytes.length): number {
  let crc = 0xffff
  for (let i = start; i < end; i++) crc = ((crc << 8) & 0xffff) ^ TABLE[(crc >> 8) ^ bytes[i]!]!
  return crc
}

/** As the line carries it: four upper-case hexadecimal digits. */
export function crcText(crc: number): string {
  return crc.toString(16).toUpperCase().padStart(4, '0')
}
