import { describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../../src/base/random.ts'
import { halveRate } from '../../../src/numerics/spectrum/halve-rate.ts'
import { octaveSpectrum, windowOf } from '../../../src/numerics/spectrum/octave-spectrum.ts'
import { expectRelative } from '../../support/expect-relative.ts'

const wave = (length: number, periodsPerSample: number, amplitude = 1) =>
  Float64Array.from({ length }, (_, i) => amplitude * Math.cos(2 * Math.PI * periodsPerSample * i))

const rms = (values: Float64Array) =>
  Math.sqrt(values.reduce((sum, value) => sum + value * value, 0) / values.length)

describe('halving the rate', () => {
  test.each([0, 0.01, 0.1, 0.19])('keeps %f of the rate', f => {
    const half = halveRate(wave(4096, f)).subarray(100, 1900)
    expectRelative(rms(half), f === 0 ? 1 : Math.SQRT1_2, 2e-3)
  })

  test.each([0.3, 0.35, 0.4, 0.45])('lets nothing of %f fold back', f => {
    expect(rms(halveRate(wave(4096, f)).subarray(100, 1900))).toBeLessThan(1e-3)
  })
})

describe('spectrum by octaves', () => {
  const normal = seededNormal(seededUniform(3))
  const noise = Float64Array.from({ length: 60_000 }, () => normal())

  test('white noise has an excess of about one everywhere', () => {
    for (const { excess } of octaveSpectrum([noise], 1)) {
      const mean = excess.reduce((sum, value) => sum + value, 0) / excess.length
      expect(mean).toBeGreaterThan(0.85)
      expect(mean).toBeLessThan(1.25)
    }
  })

  test.each([0.002, 0.013, 0.21, 0.4])('a line at %f stands there with its mean square', f => {
    const signal = wave(60_000, f, 0.6).map((value, i) => value + 0.2 * noise[i]!)
    const spectrum = octaveSpectrum([signal], 1)
    let best = { excess: 0, frequency: 0, meanSquare: 0, binWidth: 0 }
    for (const { binWidth, firstBin, excess, meanSquare } of spectrum) {
      for (const [b, value] of excess.entries()) {
        if (value > best.excess) {
          best = {
            excess: value,
            frequency: (firstBin + b) * binWidth,
            meanSquare: meanSquare[b]!,
            binWidth,
          }
        }
      }
    }
    expect(Math.abs(best.frequency - f)).toBeLessThan(best.binWidth)
    // A line between two bins of a Hann window loses up to 1.4 dB.
    expect(best.meanSquare).toBeGreaterThan(0.18 * 0.7)
    expect(best.meanSquare).toBeLessThan(0.18 * 1.05)
  })

  test('Blackman–Harris holds its side lobes 92 dB down (Harris 1978)', () => {
    const size = 256
    const window = windowOf('blackman-harris', size)
    const gain = (bins: number) => {
      let [re, im] = [0, 0]
      for (const [i, w] of window.entries()) {
        re += w * Math.cos((2 * Math.PI * bins * i) / size)
        im += w * Math.sin((2 * Math.PI * bins * i) / size)
      }
      return Math.hypot(re, im)
    }
    for (let bins = 4.2; bins < 40; bins += 0.13) {
      expect(20 * Math.log10(gain(bins) / gain(0))).toBeLessThan(-91.5)
    }
  })
})
