import { AT } from './step-matrices.ts'

/** Numbers kept a step: gain K (2×2, row-major), then W = L⁻¹ of the innovation's covariance LLᵀ. */
export const GAIN_SIZE = 7

/** Variance given to a state that nothing has measured: larger than any that matters. */
const DIFFUSE = 1e8

/** Variances of one step's inputs and readings; Infinity for a reading that is missing. */
export interface StepNoise {
  voltage: number
  torque: number
  reading1: number
  reading2: number
}

/**
 * Covariance of the state's error along the steps of a run: a Kalman filter's Riccati recursion, with
 * voltage and torque disturbances entering through Γ and D, so that noise of the measured voltage is
 * carried into the weight of everything that follows.
 *   S = C P Cᵀ + D Q Dᵀ + R,  M = Φ P Cᵀ + Γ Q Dᵀ,  K = M S⁻¹,  P⁺ = Φ P Φᵀ + Γ Q Γᵀ − M S⁻¹ Mᵀ
 * Source: B. D. O. Anderson, J. B. Moore, Optimal Filtering, chapter 5 (correlated noises; from memory).
 */
export class ErrorCovariance {
  /** Elements of P: current, mixed, speed. */
  current = 0
  mixed = 0
  speed = 0
  logDeterminant = 0
  readings = 0

  begin(): void {
    this.logDeterminant = 0
    this.readings = 0
    this.known()
  }

  known(): void {
    this.current = this.mixed = this.speed = 0
  }

  unknown(currentVariance: number, speedVariance: number): void {
    this.current = Math.min(currentVariance, DIFFUSE)
    this.mixed = 0
    this.speed = Math.min(speedVariance, DIFFUSE)
  }

  currentKnown(): void {
    this.current = this.mixed = 0
  }

  speedKnown(): void {
    this.speed = this.mixed = 0
  }

  /**
   * Lowers the gain of the speed reading: one that looks back over a window must not be followed faster
   * than the window moves on, or the correction feeds on itself. What the optimal gain K took from P is put back and what the
   * lower one K′ takes is taken: with D = K − K′, P grows by D S Dᵀ.
   */
  private hold(out: Float64Array, to: number, most: number, speedVariance: number): void {
    const share = 1 - most / out[to + 3]!
    const da = share * out[to + 1]!
    const db = share * out[to + 3]!
    out[to + 1]! -= da
    out[to + 3]! -= db
    this.current += da * da * speedVariance
    this.mixed += da * db * speedVariance
    this.speed += db * db * speedVariance
  }

  /** One step with a block of `fillStepBlock`; writes gain and whitening at `to`. */
  step(
    block: Float64Array,
    at: number,
    open: boolean,
    firstScale: number,
    noise: StepNoise,
    mostSpeedGain: number,
    out: Float64Array,
    to: number,
  ): void {
    const { current: a, mixed: b, speed: d } = this
    const q1 = noise.voltage
    const q2 = noise.torque
    const f0 = block[at]!
    const f1 = block[at + 1]!
    const f2 = block[at + 2]!
    const f3 = block[at + 3]!
    const g0 = block[at + 4]!
    const g1 = block[at + 5]!
    const g2 = block[at + 6]!
    const g3 = block[at + 7]!
    const fp0 = f0 * a + f1 * b
    const fp1 = f0 * b + f1 * d
    const fp2 = f2 * a + f3 * b
    const fp3 = f2 * b + f3 * d
    let nextA = fp0 * f0 + fp1 * f1 + g0 * g0 * q1 + g1 * g1 * q2
    let nextB = fp0 * f2 + fp1 * f3 + g0 * g2 * q1 + g1 * g3 * q2
    let nextD = fp2 * f2 + fp3 * f3 + g2 * g2 * q1 + g3 * g3 * q2

    const r1 = at + (open ? AT.openSpeed : AT.current)
    const c0 = firstScale * block[r1]!
    const c1 = firstScale * block[r1 + 1]!
    const e0 = firstScale * block[r1 + 2]!
    const e1 = firstScale * block[r1 + 3]!
    const r2 = at + AT.speed
    const h0 = block[r2]!
    const h1 = block[r2 + 1]!
    const k0 = block[r2 + 2]!
    const k1 = block[r2 + 3]!
    const has1 = noise.reading1 !== Infinity
    const has2 = noise.reading2 !== Infinity
    const m1a = fp0 * c0 + fp1 * c1 + g0 * q1 * e0 + g1 * q2 * e1
    const m1b = fp2 * c0 + fp3 * c1 + g2 * q1 * e0 + g3 * q2 * e1
    const m2a = fp0 * h0 + fp1 * h1 + g0 * q1 * k0 + g1 * q2 * k1
    const m2b = fp2 * h0 + fp3 * h1 + g2 * q1 * k0 + g3 * q2 * k1
    const pc0 = a * c0 + b * c1
    const pc1 = b * c0 + d * c1
    const s11 = c0 * pc0 + c1 * pc1 + e0 * e0 * q1 + e1 * e1 * q2 + noise.reading1
    const s12 = h0 * pc0 + h1 * pc1 + k0 * e0 * q1 + k1 * e1 * q2
    const s22 =
      h0 * (a * h0 + b * h1) + h1 * (b * h0 + d * h1) + k0 * k0 * q1 + k1 * k1 * q2 + noise.reading2

    let w11 = 0
    let w21 = 0
    let w22 = 0
    if (has1) {
      w11 = 1 / Math.sqrt(s11)
      this.logDeterminant += Math.log(s11)
      this.readings += 1
    }
    if (has2) {
      const l21 = has1 ? s12 * w11 : 0
      const left = s22 - l21 * l21
      w22 = 1 / Math.sqrt(left)
      w21 = -l21 * w11 * w22
      this.logDeterminant += Math.log(left)
      this.readings += 1
    }
    // K = M Wᵀ W, and P loses the squares of M Wᵀ.
    const t1a = m1a * w11
    const t1b = m1b * w11
    const t2a = has2 ? m1a * w21 + m2a * w22 : 0
    const t2b = has2 ? m1b * w21 + m2b * w22 : 0
    nextA -= t1a * t1a + t2a * t2a
    nextB -= t1a * t1b + t2a * t2b
    nextD -= t1b * t1b + t2b * t2b
    this.current = Math.max(0, nextA)
    this.mixed = nextB
    this.speed = Math.max(0, nextD)
    out[to] = t1a * w11 + t2a * w21
    out[to + 1] = t2a * w22
    out[to + 2] = t1b * w11 + t2b * w21
    out[to + 3] = t2b * w22
    if (out[to + 3]! > mostSpeedGain) this.hold(out, to, mostSpeedGain, s22)
    out[to + 4] = w11
    out[to + 5] = w21
    out[to + 6] = w22
  }
}
