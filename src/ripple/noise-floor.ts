/// <reference path="../numerics/spectrum/fourier-transform.d.ts" />
import { fft } from 'fourier-transform'
import { windowOf } from '../numerics/spectrum/octave-spectrum.ts'
import { median } from '../statistics/robust.ts'

/** Of a long signal, so much tells its noise. */
const LONGEST_TRANSFORM = 16_384

/**
 * Root mean square of the noise between the lines of a signal, as if it were white: by the median of its power, to which the
 * few places that hold lines of the shaft count for nothing. Exponential noise has ln 2 of its mean there.
 */
export function noiseFloor(values: Float64Array): number {
  const size = Math.min(LONGEST_TRANSFORM, 2 ** Math.floor(Math.log2(values.length)))
  const window = windowOf('hann', size)
  const mean = values.subarray(0, size).reduce((sum, value) => sum + value, 0) / size
  const [re, im] = fft(window.map((w, i) => w * (values[i]! - mean)))
  const power = Array.from({ length: size / 2 - 2 }, (_, b) => re[b + 2]! ** 2 + im[b + 2]! ** 2)
  const squares = window.reduce((sum, w) => sum + w * w, 0)
  return Math.sqrt(median(power) / Math.LN2 / squares)
}
