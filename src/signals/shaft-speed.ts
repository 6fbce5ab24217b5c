import type { Recording } from '../records/recording.ts'
import { quantileOf, whiteNoise } from '../statistics/robust.ts'

/** Noise wanted on a speed that is taken from position, relative to the fastest speed. */
const WANTED_NOISE = 1e-3
const LONGEST_HALF_WINDOW = 100

/**
 * Speed of the shaft in rad/s: the speed channel, else the slope of position by a centred straight line whose
 * half-window grows until the noise of the slope is `WANTED_NOISE` of the fastest speed. Null with neither.
 */
export function shaftSpeed(recording: Recording): Float64Array | null {
  const { speed, position } = recording.columns
  if (speed) return speed
  if (!position || !recording.timeSec || recording.sampleCount < 3) return null
  const time = recording.timeSec
  const step = (time[time.length - 1]! - time[0]!) / (time.length - 1)
  if (!(step > 0)) return null
  const resolution = recording.traits.position?.resolution ?? 0
  const noise = Math.max(whiteNoise(position), resolution / Math.sqrt(12))
  const rough = slopes(time, position, Math.min(20, Math.floor((time.length - 1) / 2)))
  const fastest = quantileOf(rough.map(Math.abs), 0.99)
  // Slope of a line over 2m + 1 points: variance 3σ² / (m (m + 1) (2m + 1) Δt²).
  let half = 1
  while (
    half < LONGEST_HALF_WINDOW &&
    half * 8 < time.length &&
    noise * Math.sqrt(3 / (half * (half + 1) * (2 * half + 1))) > WANTED_NOISE * fastest * step
  ) {
    half++
  }
  return slopes(time, position, half)
}

/** Slope at each sample by a straight line over the samples within `half` of it; fewer at the ends. */
function slopes(time: Float64Array, values: Float64Array, half: number): Float64Array {
  const n = time.length
  const result = new Float64Array(n)
  for (let i = 0; i < n; i++) {
    const reach = Math.min(half, Math.max(1, Math.min(i, n - 1 - i)))
    const from = Math.max(0, i - reach)
    const to = Math.min(n - 1, i + reach)
    let t = 0
    let v = 0
    for (let j = from; j <= to; j++) {
      t += time[j]! - time[i]!
      v += values[j]! - values[i]!
    }
    const count = to - from + 1
    let products = 0
    let squares = 0
    for (let j = from; j <= to; j++) {
      const dt = time[j]! - time[i]! - t / count
      products += dt * (values[j]! - values[i]! - v / count)
      squares += dt * dt
    }
    result[i] = products / squares
  }
  return result
}
