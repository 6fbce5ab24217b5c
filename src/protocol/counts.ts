import type { ChannelTraits } from '../records/recording.ts'
import type { ChannelDeclaration } from './channel.ts'

/** Value in SI of one count: scale × count + offset (P-5.5). */
export function countToSi(channel: ChannelDeclaration, count: number): number {
  return channel.scale * count + channel.offset
}

/** Neither reading at the ends of the range can be trusted; a modulo channel has no ends. */
export function isSaturated(channel: ChannelDeclaration, count: number): boolean {
  if (channel.kind === 'modulo') return false
  return count <= channel.lowCount || count >= channel.highCount
}

/** The traits of a channel's column as the analysis takes them. */
export function traitsOf(channel: ChannelDeclaration): ChannelTraits {
  const ends = [countToSi(channel, channel.lowCount), countToSi(channel, channel.highCount)]
  const bounded = channel.kind !== 'modulo'
  return {
    noise: channel.noise,
    resolution: Math.abs(channel.scale),
    rangeLow: bounded ? Math.min(...ends) : null,
    rangeHigh: bounded ? Math.max(...ends) : null,
    apertureSec: channel.apertureSec,
    delaySec: channel.delaySec,
    gainUncertainty: channel.gainUncertainty,
    zeroUncertainty: channel.zeroUncertainty,
  }
}

/**
 * Counts of a channel that runs round (an encoder), made continuous: each step is the one nearest to
 * zero, so the shaft must turn less than half the span between two samples. The first count stands
 * for itself.
 */
export class ModuloUnwrapper {
  private readonly span: number
  private last: number | null = null
  private total = 0

  constructor(bits: number) {
    if (!Number.isInteger(bits) || bits < 1 || bits > 16) {
      throw new RangeError(`bits = ${bits}; must be an integer from 1 to 16`)
    }
    this.span = 2 ** bits
  }

  next(count: number): number {
    if (this.last === null) this.total = count
    else {
      const step = (count - this.last + this.span) % this.span
      this.total += step >= this.span / 2 ? step - this.span : step
    }
    this.last = count
    return this.total
  }
}
