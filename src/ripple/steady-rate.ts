/// <reference path="../numerics/spectrum/fourier-transform.d.ts" />
import { fft } from 'fourier-transform'
import { windowOf } from '../numerics/spectrum/octave-spectrum.ts'
import { quantileOf } from '../statistics/robust.ts'
import { layOut } from './lay-out.ts'

/** Values laid out a turn, a multiple of the ripples. */
const VALUES_A_RIPPLE = 12
/** The rate is looked for within this part of what is expected … */
const REACH = 0.008
/** … in steps of this part of what the stretch resolves at the highest order. */
const STEP = 0.1
/** Of a frequency's neighbourhood, so many resolutions to either side tell the noise. */
const NEIGHBOURS = 24
/** A line counts for no more than this many times the noise. */
const MOST_EXCESS = 400
/** The best rate must gather this many times the noise, over what chance gives. */
const LEAST_EXCESS = 12

/**
 * By which factor a steady rate differs from the one expected, over a stretch as a whole: all orders that show must stand
 * at their places at once, so one that is lost in the noise, or a neighbour that is not, leads nobody astray. Maximum
 * likelihood for lines in noise that is known: the sum of their powers over it. Null where nothing stands out.
 *
 * @param orders of the shaft, those that were seen
 */
export function steadyRatio(
  ripple: Float64Array,
  turnsPerSample: Float64Array,
  from: number,
  to: number,
  ripplesPerTurn: number,
  orders: readonly number[],
): number | null {
  const step = 1 / (ripplesPerTurn * VALUES_A_RIPPLE)
  const { values } = layOut(ripple, turnsPerSample, from, to, step)
  if (values.length < 4 * VALUES_A_RIPPLE) return null
  const size = 2 ** Math.ceil(Math.log2(4 * values.length))
  const window = windowOf('hann', values.length)
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length
  const padded = new Float64Array(size)
  for (const [i, value] of values.entries()) padded[i] = window[i]! * (value - mean)
  const [re, im] = fft(padded)
  const power = re.map((x, b) => x * x + im[b]! * im[b]!)
  const binsAcross = size / values.length
  const turns = values.length * step
  const highest = Math.max(...orders)
  const lines = orders.flatMap(order => {
    const centre = order * step * size
    const near: number[] = []
    for (let k = -NEIGHBOURS; k <= NEIGHBOURS; k++) {
      const bin = Math.round(centre + k * binsAcross)
      if (bin > 1 && bin < power.length) near.push(power[bin]!)
    }
    // The median of exponential noise is ln 2 of its mean.
    const floor = quantileOf(near, 0.5) / Math.LN2
    return floor > 0 && centre * (1 + REACH) < power.length - 2 ? [{ centre, floor }] : []
  })
  let best = 0
  let ratio: number | null = null
  const wide = Math.ceil((REACH * turns * highest) / STEP)
  for (let k = -wide; k <= wide; k++) {
    const tried = 1 + (k * STEP) / (turns * highest)
    let sum = 0
    for (const { centre, floor } of lines) {
      const place = centre * tried
      const below = Math.floor(place)
      const share = place - below
      const excess = ((1 - share) * power[below]! + share * power[below + 1]!) / floor
      sum += excess / (1 + excess / MOST_EXCESS)
    }
    if (sum > best) {
      best = sum
      ratio = tried
    }
  }
  return best > lines.length + LEAST_EXCESS ? ratio : null
}
