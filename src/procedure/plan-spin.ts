import { climb, highestFreeVolt } from './climb.ts'
import {
  chooseRateHz,
  closePlan,
  coastStep,
  type PlanContext,
  type Planned,
  planFault,
} from './plan-parts.ts'

export const TURNING_RATE_HZ = 5000
export const TURNING_LEAD_IN_SEC = 0.1

const HOLD_SEC = 0.8
/** A first turn needs more than what just broke the shaft away, and is slow. */
const OVER_BREAK_AWAY = 2
const SLOW_SHARE = 0.25

/** Voltage for the first turn of the free shaft, and for the later comparison with it. */
export function spinVolt(context: PlanContext): number | null {
  const { breakAwayVolt } = context.known
  if (breakAwayVolt === null) return null
  const highest = highestFreeVolt(context)
  return Math.min(highest, Math.max(OVER_BREAK_AWAY * breakAwayVolt, SLOW_SHARE * highest))
}

/** A slow turn at one voltage: polarity of the speed channel, first k, and k again after the stalls. */
export function planSpin(context: PlanContext, setVolt: number): Planned {
  const steps = climb(context, 1, [{ volt: setVolt, holdSec: HOLD_SEC, purpose: 'slow turn' }])
  if (!steps) return planFault('limit', startFaultText(context))
  return closePlan(context, {
    kind: 'free-run',
    shaft: 'free',
    rateHz: chooseRateHz(context.rig.ratesHz, TURNING_RATE_HZ),
    steps: [coastStep(context, TURNING_LEAD_IN_SEC, 'rest: offsets'), ...steps],
  })
}

export function startFaultText({ limits }: PlanContext): string {
  return `${limits.currentLimitedBy} of ${limits.currentAmp} A is too low to bring this motor up to speed`
}
