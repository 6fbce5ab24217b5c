import type { Uniform } from '../../src/base/random.ts'
import { crc16, crcText } from '../../src/protocol/crc.ts'

/** One to four bytes changed, lost, doubled, added or swapped, or the checksum made right again. */
export function mutant(line: Uint8Array, uniform: Uniform): Uint8Array {
  const bytes = [...line]
  const pick = (n: number) => Math.floor(uniform() * n)
  for (let times = 1 + pick(4); times > 0 && bytes.length > 0; times--) {
    const at = pick(bytes.length)
    const how = pick(6)
    if (how === 0) bytes[at] = pick(256)
    else if (how === 1) bytes[at]! ^= 1 << pick(8)
    else if (how === 2) bytes.splice(at, 1 + pick(8))
    else if (how === 3) bytes.splice(at, 0, ...bytes.slice(at, at + 1 + pick(8)))
    else if (how === 4) bytes.splice(at, 0, pick(256))
    else bytes.splice(at, 2, bytes[at + 1] ?? 0x20, bytes[at]!)
  }
  const text = String.fromCharCode(...bytes.filter(b => b !== 10))
  // Every third one gets a good checksum, so that what lies behind the checksum is tried as well.
  if (uniform() < 0.34) {
    const body = text.replace(/\*.*$/, '')
    return latin(`${body}*${crcText(crc16(latin(body)))}`)
  }
  return latin(text)
}

export const latin = (text: string) => Uint8Array.from(text, c => c.charCodeAt(0))
