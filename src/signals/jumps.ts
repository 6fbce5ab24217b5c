import { median, quantileOf } from '../statistics/robust.ts'

/** A change over one or two samples larger than this share of the range is a jump, unless it is noise. */
const SHARE_OF_RANGE = 0.02
/** Larger than this many times the usual change from sample to sample. */
const USUAL_CHANGES = 12
const PROBES = 6_001

/**
 * Places where a voltage was set anew: the index of the first sample that has the new value. A change that
 * takes several samples counts once, at its end. A ramp is no jump: its changes are the usual ones.
 */
export function voltageJumps(values: Float64Array): number[] {
  if (values.length < 2) return []
  const limit = jumpLimit(values)
  const jumps: number[] = []
  let last = Number.NEGATIVE_INFINITY
  for (let i = 1; i < values.length; i++) {
    if (!(Math.abs(values[i]! - values[i - 1]!) > limit)) continue
    if (i - last <= 2) jumps[jumps.length - 1] = i
    else jumps.push(i)
    last = i
  }
  return jumps
}

function jumpLimit(values: Float64Array): number {
  const stride = Math.max(1, Math.floor(values.length / PROBES))
  const changes: number[] = []
  const levels: number[] = []
  for (let i = 1; i < values.length; i += stride) {
    const change = Math.abs(values[i]! - values[i - 1]!)
    if (!Number.isNaN(change)) changes.push(change)
    if (!Number.isNaN(values[i]!)) levels.push(values[i]!)
  }
  const range = quantileOf(levels, 0.999) - quantileOf(levels, 0.001)
  const rounding = 1e-9 * quantileOf(levels.map(Math.abs), 1)
  return Math.max(USUAL_CHANGES * median(changes), SHARE_OF_RANGE * range, rounding)
}
