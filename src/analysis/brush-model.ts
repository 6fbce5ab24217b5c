/** Drop over both brushes: V_b tanh(i/I_b), or V_b sgn(i) where the knee I_b is 0. */
export interface BrushModel {
  readonly dropVolt: number
  readonly kneeAmp: number
}

export function brushVolt(brush: BrushModel, amp: number): number {
  return brush.dropVolt * (brush.kneeAmp > 0 ? Math.tanh(amp / brush.kneeAmp) : Math.sign(amp))
}
