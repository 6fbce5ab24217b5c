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

/** What a byte that stands one, two and three places further ahead leaves in the end. */
const TABLE_1 = TABLE.map(ahead)
const TABLE_2 = TABLE_1.map(ahead)
const TABLE_3 = TABLE_2.map(ahead)

function ahead(crc: number): number {
  return ((crc << 8) & 0xffff) ^ TABLE[crc >> 8]!
}

/** Checksum of `bytes[start … end)`; four bytes a step, for every byte of the line goes through here. */
export function crc16(bytes: Uint8Array, start = 0, end = bytes.length): number {
  let crc = 0xffff
  let i = start
  for (; i + 4 <= end; i += 4) {
    crc =
      TABLE_3[(crc >> 8) ^ bytes[i]!]! ^
      TABLE_2[(crc & 0xff) ^ bytes[i + 1]!]! ^
      TABLE_1[bytes[i + 2]!]! ^
      TABLE[bytes[i + 3]!]!
  }
  for (; i < end; i++) crc = ((crc << 8) & 0xffff) ^ TABLE[(crc >> 8) ^ bytes[i]!]!
  return crc
}

/** As the line carries it: four upper-case hexadecimal digits. */
export function crcText(crc: number): string {
  return crc.toString(16).toUpperCase().padStart(4, '0')
}
