/** A bridge that switches the voltage across a resistance and an inductance. */
export interface SwitchedWinding {
  /** Difference between the two levels of voltage: V unipolar, 2 V bipolar. */
  readonly swingVolt: number
  readonly resistanceOhm: number
  readonly inductanceHenry: number
  readonly pwmHz: number
  /** Share of the period at the higher level, 0 to 1. */
  readonly duty: number
}

/**
 * Peak-to-peak ripple current in the steady state:
 *   ΔI = (V/R)(1 − e^{−dT/τ})(1 − e^{−(1−d)T/τ})/(1 − e^{−T/τ}),  τ = L/R
 * Largest at d = 0.5. The back-EMF shifts the mean, not the ripple. Valid while the current never stops.
 * Source: any text on choppers, e.g. B. R. Gupta and V. Singhal, Introduction to Electric Drives, chapter 4;
 * checked with its examples in test/drive.
 */
export function rippleCurrentAmp(winding: SwitchedWinding): number {
  const { swingVolt, resistanceOhm, inductanceHenry, pwmHz, duty } = winding
  const periods = resistanceOhm / (inductanceHenry * pwmHz)
  const on = -Math.expm1(-duty * periods)
  const off = -Math.expm1(-(1 - duty) * periods)
  return ((swingVolt / resistanceOhm) * on * off) / -Math.expm1(-periods)
}

/** PWM frequency at which the ripple at d = 0.5 is as given, R left out: f = V/(4 L ΔI). */
export function frequencyForRippleHz(
  swingVolt: number,
  inductanceHenry: number,
  rippleAmp: number,
): number {
  return swingVolt / (4 * inductanceHenry * rippleAmp)
}
