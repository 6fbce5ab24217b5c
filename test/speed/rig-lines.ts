import { seededNormal, seededUniform } from '../../src/base/random.ts'
import type { ChannelDeclaration } from '../../src/protocol/channel.ts'
import { crc16, crcText } from '../../src/protocol/crc.ts'
import { samplesPerBlock, writeBlock, writeDecimals } from '../../src/protocol/sample-lines.ts'
import { WIRE } from '../../src/protocol/wire.ts'
import { THREE_CHANNELS } from '../support/sample-runs.ts'

export const PERIOD_NS = 100_000

export const CHANNELS: readonly ChannelDeclaration[] = THREE_CHANNELS.map((channel, index) => ({
  ...channel,
  index,
  kind: 'signed',
  bits: 16,
  lowCount: -32_768,
  highCount: 32_767,
  noise: 0,
  apertureSec: 0,
  delaySec: 0,
  gainUncertainty: 0,
  zeroUncertainty: 0,
}))

export interface RigLines {
  readonly bytes: Uint8Array
  readonly lines: number
  readonly samples: number
}

export type LineForm = 'block' | 'decimal'

/** Sample lines as a rig sends them: noise of 40 counts on slow waves. */
export function rigLines(form: LineForm, lines: number, seed: number): RigLines {
  const normal = seededNormal(seededUniform(seed))
  const perLine = form === 'decimal' ? 1 : samplesPerBlock(CHANNELS.length)
  const bytes = new Uint8Array(lines * (form === 'decimal' ? 64 : WIRE.maxLineBytes))
  const counts = new Int32Array(perLine * CHANNELS.length)
  let at = 0
  for (let line = 0; line < lines; line++) {
    const first = line * perLine
    for (let k = 0; k < counts.length; k++) {
      const c = k % CHANNELS.length
      const wave = 12_000 * Math.sin((first + (k - c) / CHANNELS.length) / (3000 * (c + 1)))
      counts[k] = Math.round(wave + 40 * normal())
    }
    const timeUs = (first * PERIOD_NS) / 1000
    const end =
      form === 'decimal'
        ? writeDecimals(bytes, at, first, timeUs, counts, 0, CHANNELS.length)
        : writeBlock(bytes, at, 'B', first, timeUs, counts, 0, perLine, CHANNELS.length)
    const tail = `*${crcText(crc16(bytes, at, end))}\n`
    for (let i = 0; i < tail.length; i++) bytes[end + i] = tail.charCodeAt(i)
    at = end + tail.length
  }
  return { bytes: bytes.slice(0, at), lines, samples: lines * perLine }
}
