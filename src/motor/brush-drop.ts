import type { ModelPoint } from './parameters.ts'

/** A bridge that switches: its period, and the voltage of its pulses. Null where the output is linear. */
export interface Switching {
  readonly periodSec: number
  readonly busVolt: number
}

/** Of the largest swing: how sharply a drop that jumps is let bend where the current swings through it. */
const SHARP = 0.02

/**
 * Half the swing of the current about its mean between pulses of the bus with slow decay,
 *   A = U d (1 − d) T / (2 L),  d = |v| / U;  0 without switching and at full duty.
 * Source: the volt-second balance of a buck converter's inductor (any text on switching converters).
 */
export function swingAmp(switching: Switching | null, volt: number, inductance: number): number {
  if (switching === null) return 0
  const { periodSec, busVolt } = switching
  const duty = Math.abs(volt) / busVolt
  return duty < 1 ? (busVolt * duty * (1 - duty) * periodSec) / (2 * inductance) : 0
}

/** The motor with a drop that bends, if ever so sharply: a swinging current has no dead band to rest in. */
export function withBend(point: ModelPoint, switching: Switching | null): ModelPoint {
  if (switching === null || point.brushDropVolt === 0) return point
  const sharpest = SHARP * swingAmp(switching, switching.busVolt / 2, point.inductanceHenry)
  return point.brushKneeAmp >= sharpest ? point : { ...point, brushKneeAmp: sharpest }
}

/**
 * The drop at the brushes, V_b tanh(i / I_b), and its slopes. Where the current swings in a triangle by ±A
 * about i, both are means over the swing:
 *   V_b I_b / (2 A) · ln( cosh((i + A) / I_b) / cosh((i − A) / I_b) ).
 * Far swings make of the jump a straight line: the mean drop is V_b i / A where |i| < A.
 */
export class BrushDrop {
  volt = 0
  /** Of the whole drop; told also of a drop that is nil. */
  share = 0
  /** ∂/∂i, ∂²/∂i². */
  slopeOhm = 0
  bend = 0
  /** ∂/∂ ln I_b, and ∂/∂ ln L through the swing. */
  byLnKnee = 0
  byLnInductance = 0

  at(amp: number, { brushDropVolt: drop, brushKneeAmp: knee }: ModelPoint, swing: number): this {
    if (swing < LEAST_SWING * knee) {
      const t = Math.tanh(amp / knee)
      this.share = t
      this.volt = drop * t
      this.slopeOhm = (drop * (1 - t * t)) / knee
      this.bend = (-2 * t * this.slopeOhm) / knee
      this.byLnKnee = -amp * this.slopeOhm
      this.byLnInductance = 0
      return this
    }
    const high = (amp + swing) / knee
    const low = (amp - swing) / knee
    const tHigh = Math.tanh(high)
    const tLow = Math.tanh(low)
    const ohm = drop / (2 * swing)
    this.share = (knee * (lnCosh(high) - lnCosh(low))) / (2 * swing)
    this.volt = drop * this.share
    this.slopeOhm = ohm * (tHigh - tLow)
    this.bend = (ohm * (tLow * tLow - tHigh * tHigh)) / knee
    const ends = (drop * (tHigh + tLow)) / 2
    this.byLnKnee = this.volt - amp * this.slopeOhm - ends
    this.byLnInductance = this.volt - ends
    return this
  }
}

/** Below this share of the knee the difference of two logarithms is lost in rounding, and so is the swing. */
const LEAST_SWING = 1e-3

function lnCosh(x: number): number {
  const size = Math.abs(x)
  return size + Math.log1p(Math.exp(-2 * size)) - Math.LN2
}
