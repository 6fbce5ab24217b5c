import { describe, expect, it } from 'vitest'
import { BrushDrop, swingAmp, withBend } from '../../src/motor/brush-drop.ts'
import { TRIAL_MOTOR } from '../support/own-model-trial.ts'

const MOTOR = { ...TRIAL_MOTOR, brushDropVolt: 0.8, brushKneeAmp: 0.3 }

/** The mean of V_b tanh over a triangle, by the midpoint rule. */
function meanOverTriangle(amp: number, knee: number, swing: number): number {
  const pieces = 20_000
  let sum = 0
  for (let n = 0; n < pieces; n++) {
    sum += Math.tanh((amp + swing * ((2 * n + 1) / pieces - 1)) / knee)
  }
  return (0.8 * sum) / pieces
}

describe('the brush drop under a current that swings', () => {
  it.each([
    [0.1, 0.3, 1.1],
    [0.1, 0.3, 0.05],
    [2, 0.3, 1.1],
    [-0.4, 0.02, 0.9],
  ])('at %f A, knee %f A, swing %f A is the mean over the swing', (amp, knee, swing) => {
    const drop = new BrushDrop().at(amp, { ...MOTOR, brushKneeAmp: knee }, swing)
    expect(drop.volt).toBeCloseTo(meanOverTriangle(amp, knee, swing), 6)
  })

  it.each([0, 0.05, 1.1])('has the slopes of its own differences at a swing of %f A', swing => {
    const at = (amp: number, knee = 0.3, by = swing) =>
      new BrushDrop().at(amp, { ...MOTOR, brushKneeAmp: knee }, by)
    const h = 1e-4
    const { slopeOhm, bend, byLnKnee, byLnInductance } = at(0.25)
    expect(slopeOhm).toBeCloseTo((at(0.25 + h).volt - at(0.25 - h).volt) / (2 * h), 5)
    expect(bend).toBeCloseTo((at(0.25 + h).slopeOhm - at(0.25 - h).slopeOhm) / (2 * h), 4)
    const byKnee = at(0.25, 0.3 * Math.exp(h)).volt - at(0.25, 0.3 * Math.exp(-h)).volt
    expect(byLnKnee).toBeCloseTo(byKnee / (2 * h), 5)
    const bySwing =
      at(0.25, 0.3, swing * Math.exp(-h)).volt - at(0.25, 0.3, swing * Math.exp(h)).volt
    expect(byLnInductance).toBeCloseTo(bySwing / (2 * h), 5)
  })

  // Source: common practice, no source: ripple of a two-quadrant stage is largest at half duty, U T / (4 L) peak to peak.
  it('swings most at half duty', () => {
    const switching = { periodSec: 50e-6, busVolt: 48 }
    expect(swingAmp(switching, 24, 1e-3)).toBeCloseTo((48 * 50e-6) / (8 * 1e-3), 12)
    expect(swingAmp(switching, -48, 1e-3)).toBe(0)
    expect(swingAmp(null, 24, 1e-3)).toBe(0)
  })

  it('lets a jump bend where the current swings through it', () => {
    const jump = { ...MOTOR, brushKneeAmp: 0 }
    expect(withBend(jump, null).brushKneeAmp).toBe(0)
    expect(withBend(jump, { periodSec: 50e-6, busVolt: 48 }).brushKneeAmp).toBeGreaterThan(0)
  })
})
