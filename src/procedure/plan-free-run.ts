import { climb, highestFreeVolt } from './climb.ts'
import {
  chooseRateHz,
  closePlan,
  coastStep,
  type PlanContext,
  type Planned,
  planFault,
} from './plan-parts.ts'
import { startFaultText, TURNING_LEAD_IN_SEC, TURNING_RATE_HZ } from './plan-spin.ts'

const LEVEL_COUNT = 5
const LOWEST_SHARE = 0.2
const OVER_BREAK_AWAY = 1.5
const HOLD_SEC = 0.35

/** Steps of voltage upwards in one direction, each held until the speed is steady. */
export function planFreeRun(context: PlanContext, direction: 1 | -1): Planned {
  const { breakAwayVolt, backEmfVsPerRad } = context.known
  if (breakAwayVolt === null || backEmfVsPerRad === null) {
    return planFault('not-known', 'the first slow turn comes first')
  }
  const highest = highestFreeVolt(context)
  const lowest = Math.min(
    highest,
    Math.max(LOWEST_SHARE * highest, OVER_BREAK_AWAY * breakAwayVolt),
  )
  const levels = Array.from({ length: LEVEL_COUNT }, (_, i) => ({
    volt: lowest + ((highest - lowest) * i) / (LEVEL_COUNT - 1),
    holdSec: HOLD_SEC,
    purpose: i === 0 ? 'gentle start: the shaft must turn' : `level ${i + 1} of ${LEVEL_COUNT}`,
  }))
  const steps = climb(context, direction, levels)
  if (!steps) return planFault('limit', startFaultText(context))
  return closePlan(context, {
    kind: 'free-run',
    shaft: 'free',
    rateHz: chooseRateHz(context.rig.ratesHz, TURNING_RATE_HZ),
    steps: [coastStep(context, TURNING_LEAD_IN_SEC, 'rest: offsets'), ...steps],
  })
}
