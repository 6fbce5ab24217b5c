import { chooseRateHz, closePlan, coastStep, type PlanContext, type Planned } from './plan-parts.ts'

const ZERO_RATE_HZ = 5000

/** Terminals open, shaft at rest: offsets and noise of every channel. */
export function planZero(context: PlanContext, durationSec: number): Planned {
  return closePlan(context, {
    kind: 'zero',
    shaft: 'any',
    rateHz: chooseRateHz(context.rig.ratesHz, ZERO_RATE_HZ),
    steps: [coastStep(context, durationSec, 'bridge off: offsets and noise of every channel')],
  })
}
