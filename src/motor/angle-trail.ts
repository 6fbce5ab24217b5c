import type { SpeedTrail } from './step-matrices.ts'

const KEPT = 512

/**
 * The angle a model shaft has turned, kept over the last steps with its derivatives: what a speed
 * reading averages over when its window is longer than a step,
 *   reading = (φ(t − delay) − φ(t − delay − aperture)) / aperture.
 * Between kept moments the angle is taken as linear.
 */
export class AngleTrail {
  private readonly time = new Float64Array(KEPT)
  private readonly angle = new Float64Array(KEPT)
  private readonly slopes: Float64Array
  private readonly count: number
  private at = 0
  private held = 0

  constructor(coordinates: number) {
    this.count = coordinates
    this.slopes = new Float64Array(KEPT * coordinates)
  }

  clear(): void {
    this.at = 0
    this.held = 1
    this.time[0] = 0
    this.angle[0] = 0
    this.slopes.fill(0, 0, this.count)
  }

  /** The shaft turned on at a mean speed for a step. */
  add(durationSec: number, meanSpeed: number, meanSlopes: Float64Array | null): void {
    const before = this.at
    const next = (before + 1) % KEPT
    this.time[next] = this.time[before]! + durationSec
    this.angle[next] = this.angle[before]! + durationSec * meanSpeed
    if (meanSlopes !== null) {
      const from = before * this.count
      const to = next * this.count
      for (let j = 0; j < this.count; j++) {
        this.slopes[to + j] = this.slopes[from + j]! + durationSec * meanSlopes[j]!
      }
    }
    this.at = next
    if (this.held < KEPT) this.held += 1
  }

  /** The reading at the end of the last step; derivatives into `slopes`. */
  read({ apertureSec, delaySec }: SpeedTrail, slopes: Float64Array | null): number {
    const end = this.time[this.at]! - delaySec
    const late = this.find(end)
    const early = this.find(end - apertureSec)
    const lateShare = this.share(late, end)
    const earlyShare = this.share(early, end - apertureSec)
    if (slopes !== null) {
      for (let j = 0; j < this.count; j++) {
        slopes[j] =
          (this.slopeAt(late, lateShare, j) - this.slopeAt(early, earlyShare, j)) / apertureSec
      }
    }
    return (this.angleAt(late, lateShare) - this.angleAt(early, earlyShare)) / apertureSec
  }

  /** Slot of the first kept moment at or after `time`. */
  private find(time: number): number {
    let slot = this.at
    for (let n = 1; n < this.held; n++) {
      const before = (slot + KEPT - 1) % KEPT
      if (this.time[before]! < time) break
      slot = before
    }
    return slot
  }

  /** How far `time` lies from the slot's moment back to the one before, 0 to 1. */
  private share(slot: number, time: number): number {
    const oldest = (this.at + KEPT - this.held + 1) % KEPT
    if (slot === oldest) return 0
    const before = (slot + KEPT - 1) % KEPT
    const span = this.time[slot]! - this.time[before]!
    return Math.min(1, Math.max(0, (this.time[slot]! - time) / span))
  }

  private angleAt(slot: number, share: number): number {
    const before = (slot + KEPT - 1) % KEPT
    return share === 0
      ? this.angle[slot]!
      : this.angle[slot]! + share * (this.angle[before]! - this.angle[slot]!)
  }

  private slopeAt(slot: number, share: number, j: number): number {
    const here = this.slopes[slot * this.count + j]!
    if (share === 0) return here
    const before = (slot + KEPT - 1) % KEPT
    return here + share * (this.slopes[before * this.count + j]! - here)
  }
}
