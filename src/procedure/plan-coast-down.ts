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

const HOLD_SEC = 0.3
const SHORTEST_COAST_SEC = 0.5
const MARGIN = 1.5

/** Brought up to speed, then the terminals are opened: back-EMF and friction show without current. */
export function planCoastDown(
  context: PlanContext,
  direction: 1 | -1,
  longestSec: number,
): Planned {
  const highest = highestFreeVolt(context)
  if (highest === null) return planFault('not-known', SPEED_NOT_KNOWN)
  return firstThatFits(VOLTAGE_SHARES, share => {
    const volt = share * highest
    const steps = climb(context, direction, [{ volt, holdSec: HOLD_SEC, purpose: 'up to speed' }])
    if (!steps) return planFault('limit', startFaultText(context))
    const sec = coastSec(context, volt, longestSec)
    return closePlan(context, {
      kind: 'coast-down',
      shaft: 'free',
      rateHz: chooseRateHz(context.rig.ratesHz, TURNING_RATE_HZ),
      steps: [
        coastStep(context, TURNING_LEAD_IN_SEC, 'rest: offsets'),
        ...steps,
        coastStep(context, sec, 'terminals open: coasting down'),
      ],
    })
  })
}

/**
 * Time to standstill if all friction were dry: ω J / T_c, with J = τ_m k²/R and T_c = k i_0:
 *   t = (V/R)(τ_m / i_0)
 * Viscous friction makes the last part longer, hence the margin.
 */
function coastSec({ known }: PlanContext, volt: number, longestSec: number): number {
  const { line, mechanicalSec } = known
  const turn = known.turns.at(-1)
  if (!line || mechanicalSec === null || !turn || !(turn.amp > 0)) return longestSec
  const dry = ((volt / line.resistanceOhm) * mechanicalSec) / turn.amp
  return Math.min(longestSec, Math.max(SHORTEST_COAST_SEC, MARGIN * dry))
}
