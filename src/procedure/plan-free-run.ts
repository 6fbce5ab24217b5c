import { climb, highestFreeVolt } from './climb.ts'
import {
  chooseRateHz,
  closePlan,
  coastStep,
  type PlanContext,
  type Planned,
  firstThatFits,
  planFault,
  VOLTAGE_SHARES,
} from './plan-parts.ts'
import {
  SPEED_NOT_KNOWN,
  startFaultText,
  TURNING_LEAD_IN_SEC,
  TURNING_RATE_HZ,
} from './plan-spin.ts'

const LEVEL_COUNTS = [5, 3] as const
/** Of the rise still allowed: other tests come after. */
const HEAT_SHARE = 0.5
const LOWEST_SHARE = 0.2
const OVER_BREAK_AWAY = 1.5
const HOLD_SEC = 0.35

/**
 * Steps of voltage upwards in one direction, each held until the speed is steady; fewer and lower
 * ones where the winding may not stand them all.
 */
export function planFreeRun(context: PlanContext, direction: 1 | -1): Planned {
  const { breakAwayVolt } = context.known
  if (breakAwayVolt === null) return planFault('not-known', 'the first slow turn comes first')
  const highest = highestFreeVolt(context)
  if (highest === null) return planFault('not-known', SPEED_NOT_KNOWN)
  const lowest = Math.min(highest, OVER_BREAK_AWAY * breakAwayVolt)
  const wishes = VOLTAGE_SHARES.flatMap(share => LEVEL_COUNTS.map(count => ({ share, count })))
  return firstThatFits(wishes, ({ share, count }) =>
    planLevels(context, direction, lowest, Math.max(share * highest, lowest), count),
  )
}

function planLevels(
  context: PlanContext,
  direction: 1 | -1,
  leastVolt: number,
  highestVolt: number,
  count: number,
): Planned {
  const lowestVolt = Math.max(leastVolt, LOWEST_SHARE * highestVolt)
  const levels = Array.from({ length: count }, (_, i) => ({
    volt: lowestVolt + ((highestVolt - lowestVolt) * i) / (count - 1),
    holdSec: HOLD_SEC,
    purpose: i === 0 ? 'gentle start: the shaft must turn' : `level ${i + 1} of ${count}`,
  }))
  const steps = climb(context, direction, levels)
  if (!steps) return planFault('limit', startFaultText(context))
  return closePlan(context, {
    kind: 'free-run',
    shaft: 'free',
    rateHz: chooseRateHz(context.rig.ratesHz, TURNING_RATE_HZ),
    steps: [coastStep(context, TURNING_LEAD_IN_SEC, 'rest: offsets'), ...steps],
    heatShare: HEAT_SHARE,
  })
}
