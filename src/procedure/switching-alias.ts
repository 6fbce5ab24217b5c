import { mean } from '../statistics/describe.ts'
import { median } from '../statistics/robust.ts'

const NEIGHBOURS = 8
/** The line must stand this far above its neighbours' median amplitude. */
const PROMINENCE = 8
const FEWEST_SAMPLES = 64

/**
 * The frequency at which switching at `pwmHz`, sampled at `rateHz`, appears in a steady signal:
 *   f = |pwm − n·rate|, n the nearest whole number
 * Null where no line stands out there. A switching frequency that is a whole multiple of the rate
 * becomes an offset and cannot be told from the signal; so does one within a bin of it.
 */
export function switchingAliasHz(
  values: Float64Array,
  rateHz: number,
  pwmHz: number,
): number | null {
  const n = values.length
  if (n < FEWEST_SAMPLES || !(rateHz > 0) || values.some(Number.isNaN)) return null
  const aliasHz = Math.abs(pwmHz - Math.round(pwmHz / rateHz) * rateHz)
  const bin = (aliasHz / rateHz) * n
  if (bin < NEIGHBOURS / 2 || bin > n / 2 - 1) return null
  const centre = mean(values)
  // A Hann window keeps slow changes of the signal out of the bins around the line.
  const windowed = values.map(
    (value, i) => (value - centre) * (0.5 - 0.5 * Math.cos((2 * Math.PI * i) / n)),
  )
  const neighbours: number[] = []
  for (let offset = 3; offset < 3 + NEIGHBOURS; offset++) {
    for (const at of [bin - offset, bin + offset]) {
      if (at > 2 && at < n / 2) neighbours.push(amplitudeAt(windowed, at / n))
    }
  }
  const floor = median(neighbours)
  return amplitudeAt(windowed, bin / n) > PROMINENCE * floor ? aliasHz : null
}

/** Magnitude of the Fourier sum at one frequency, in cycles a sample (Goertzel's recursion). */
function amplitudeAt(values: Float64Array, cyclesPerSample: number): number {
  const w = 2 * Math.PI * cyclesPerSample
  const twice = 2 * Math.cos(w)
  let before = 0
  let last = 0
  for (let i = 0; i < values.length; i++) {
    const next = values[i]! + twice * last - before
    before = last
    last = next
  }
  return Math.sqrt(Math.max(0, last * last + before * before - twice * last * before))
}
