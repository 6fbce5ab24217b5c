import type { Uniform } from '../../base/random.ts'
import type { Rig } from './rig.ts'

/** What is wrong with a line; all rates are means, and 0 is never. */
export interface LineTroubles {
  /** Per byte, either way: lost, one bit turned over, a byte added. */
  readonly lost: number
  readonly flipped: number
  readonly added: number
  /** Standstills a second, and how long one lasts: nothing passes, nothing is lost on the line. */
  readonly stallsPerSec: number
  readonly stallSec: number
}

export const NO_TROUBLES: LineTroubles = {
  lost: 0,
  flipped: 0,
  added: 0,
  stallsPerSec: 0,
  stallSec: 0,
}

/**
 * A rig at the end of a bad line. Looks like the rig itself: what passes through is damaged, held up
 * or, while the plug is out, gone. The same seed and the same bytes give the same damage.
 */
export class NoisyLine {
  /** The plug. While it is out the rig lives on, unheard and deaf. */
  plugged = true
  private readonly rig: Pick<Rig, 'receive' | 'advance' | 'take'>
  private readonly uniform: Uniform
  private troubles: LineTroubles = NO_TROUBLES
  private nowSec = 0
  private nextStallSec = Number.POSITIVE_INFINITY
  private stalledUntilSec = 0
  private heldForRig: Uint8Array[] = []
  private bytesToTrouble = Number.POSITIVE_INFINITY

  constructor(rig: Pick<Rig, 'receive' | 'advance' | 'take'>, uniform: Uniform) {
    this.rig = rig
    this.uniform = uniform
  }

  /** From now on. */
  setTroubles(troubles: LineTroubles): void {
    this.troubles = troubles
    this.bytesToTrouble = this.untilNext(troubles.lost + troubles.flipped + troubles.added)
    this.nextStallSec = this.nowSec + this.untilNext(troubles.stallsPerSec)
  }

  /** Nothing passes for so long. */
  stall(forSec: number): void {
    this.stalledUntilSec = Math.max(this.stalledUntilSec, this.nowSec + forSec)
  }

  get stalled(): boolean {
    return this.nowSec < this.stalledUntilSec
  }

  receive(bytes: Uint8Array): void {
    if (!this.plugged) return
    if (this.stalled) this.heldForRig.push(bytes.slice())
    else this.rig.receive(this.damage(bytes))
  }

  advance(toSec: number): void {
    this.rig.advance(toSec)
    this.nowSec = toSec
    if (toSec >= this.nextStallSec) {
      this.stall(this.troubles.stallSec)
      this.nextStallSec = toSec + this.untilNext(this.troubles.stallsPerSec)
    }
    if (this.stalled) return
    const held = this.heldForRig
    this.heldForRig = []
    for (const bytes of held) this.receive(bytes)
  }

  take(limit: number): Uint8Array {
    if (this.stalled) return new Uint8Array(0)
    const bytes = this.rig.take(limit)
    return this.plugged ? this.damage(bytes) : new Uint8Array(0)
  }

  private damage(bytes: Uint8Array): Uint8Array {
    if (this.bytesToTrouble > bytes.length) {
      this.bytesToTrouble -= bytes.length
      return bytes
    }
    const damaged: number[] = []
    for (const byte of bytes) {
      if (--this.bytesToTrouble > 0) damaged.push(byte)
      else this.damageOne(byte, damaged)
    }
    return Uint8Array.from(damaged)
  }

  private damageOne(byte: number, damaged: number[]): void {
    const { lost, flipped, added } = this.troubles
    const rate = lost + flipped + added
    const which = this.uniform() * rate
    if (which >= lost) {
      const bit = 1 << Math.floor(8 * this.uniform())
      damaged.push(which < lost + flipped ? byte ^ bit : byte)
      if (which >= lost + flipped) damaged.push(Math.floor(256 * this.uniform()))
    }
    this.bytesToTrouble = this.untilNext(rate)
  }

  /** Distance to the next of events that come at random with this mean rate. */
  private untilNext(rate: number): number {
    return rate > 0 ? -Math.log(1 - this.uniform()) / rate : Number.POSITIVE_INFINITY
  }
}
