import { fromStandstillVolt, highestFreeVolt, settleSec } from './climb.ts'
import {
  chooseRateHz,
  closePlan,
  coastStep,
  type PlanContext,
  type Planned,
  firstThatFits,
  planFault,
  turningStep,
  VOLTAGE_SHARES,
} from './plan-parts.ts'
import {
  SPEED_NOT_KNOWN,
  startFaultText,
  TURNING_LEAD_IN_SEC,
  TURNING_RATE_HZ,
} from './plan-spin.ts'

const HOLD_SEC = 0.25

/** One step of voltage from standstill, as high as the current limit allows: the inertia shows. */
export function planRunUp(context: PlanContext, direction: 1 | -1): Planned {
  const { known, rig } = context
  const fromStandstill = fromStandstillVolt(context)
  if (fromStandstill === null || known.breakAwayVolt === null) {
    return planFault('not-known', 'the first slow turn comes first')
  }
  const highestFree = highestFreeVolt(context)
  if (highestFree === null) return planFault('not-known', SPEED_NOT_KNOWN)
  const highest = Math.min(highestFree, fromStandstill)
  if (highest < known.breakAwayVolt) return planFault('limit', startFaultText(context))
  const durationSec = settleSec(known) + HOLD_SEC
  return firstThatFits(VOLTAGE_SHARES, share => {
    const volt = Math.max(share * highest, known.breakAwayVolt!)
    return closePlan(context, {
      kind: 'run-up',
      shaft: 'free',
      rateHz: chooseRateHz(rig.ratesHz, TURNING_RATE_HZ),
      steps: [
        coastStep(context, TURNING_LEAD_IN_SEC, 'rest: offsets'),
        turningStep(context, direction * volt, durationSec, 0, 'step from standstill'),
      ],
    })
  })
}
