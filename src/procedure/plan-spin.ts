import { climb, fromStandstillVolt } from './climb.ts'
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

/** Beyond settling; the shorter ones where the winding may not stand the longest. */
const HOLDS_SEC = [0.8, 0.3] as const
/** A first turn needs more than what just broke the shaft away, and is slow. */
const OVER_BREAK_AWAY = 2
const SLOW_SHARE = 0.25
const FASTER = 1.6
const LEAST_OVER_BREAK_AWAY = 1.1
/** Of the rise allowed: most of it is for what comes after, if it can be helped. */
const FIRST_HEAT_SHARES = [0.4, 0.7] as const

/**
 * The next of the first turns of the free shaft: slow at first, then faster until k can be told;
 * slower and shorter while little is known of what the winding stands.
 */
export function planFirstSpin(context: PlanContext): Planned {
  const { known, limits } = context
  const { breakAwayVolt } = known
  const turn = known.turns.at(-1)
  if (breakAwayVolt === null) return planFault('not-known', 'gentle pulses come first')
  // How fast a voltage turns it is not known yet: a speed limit is approached from far below.
  const slow = limits.speedRadPerSec === null ? SLOW_SHARE * limits.voltageVolt : 0
  const wanted = turn ? FASTER * turn.volt : Math.max(OVER_BREAK_AWAY * breakAwayVolt, slow)
  const within = Math.min(
    wanted,
    limits.voltageVolt,
    turn ? wanted : (fromStandstillVolt(context) ?? 0),
  )
  const least = Math.min(within, LEAST_OVER_BREAK_AWAY * (turn?.volt ?? breakAwayVolt))
  let plan = planFault('limit', startFaultText(context))
  for (const heatShare of FIRST_HEAT_SHARES) {
    for (const holdSec of HOLDS_SEC) {
      for (let volt = within; volt >= least && volt > 0; volt *= 0.9) {
        plan = spin(context, volt, holdSec, heatShare)
        if (plan.ok) return plan
      }
    }
  }
  return plan
}

/** A slow turn at one voltage: polarity of the speed channel, first k, and k again after the stalls. */
export function planSpin(context: PlanContext, setVolt: number): Planned {
  return spin(context, setVolt, HOLDS_SEC[0], 1)
}

function spin(context: PlanContext, setVolt: number, holdSec: number, heatShare: number): Planned {
  const steps = climb(context, 1, [{ volt: setVolt, holdSec, purpose: 'slow turn' }])
  if (!steps) return planFault('limit', startFaultText(context))
  return closePlan(context, {
    kind: 'free-run',
    shaft: 'free',
    rateHz: chooseRateHz(context.rig.ratesHz, TURNING_RATE_HZ),
    steps: [coastStep(context, TURNING_LEAD_IN_SEC, 'rest: offsets'), ...steps],
    heatShare,
  })
}

export function startFaultText({ limits }: PlanContext): string {
  return `${limits.currentLimitedBy} of ${limits.currentAmp} A is too low to bring this motor up to speed`
}

export const SPEED_NOT_KNOWN =
  'how fast a voltage turns this motor is not known, and its speed is limited: the first turns come first'
