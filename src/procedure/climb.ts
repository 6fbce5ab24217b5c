import { freeVolt, type KnownMotor, stallVolt } from './known-motor.ts'
import {
  ceilingAmp,
  mostNoLoadAmp,
  type PlanContext,
  type PlannedStep,
  turningStep,
} from './plan-parts.ts'
import { LEAST_RESISTANCE_SHARE, type StallLine } from './stall-line.ts'

/** Of a settled speed, this much of the expected back-EMF is counted on. */
const COUNTED_ON = 0.98
const SETTLE_TIME_CONSTANTS = 5
const UNKNOWN_MECHANICAL_SEC = 0.1
const SHORTEST_SETTLE_SEC = 0.15
const LONGEST_SETTLE_SEC = 5
const MOST_STAIRS = 60
const LEVEL_TOLERANCE = 1e-6
const LOWERED_SHARE = 0.9
/** A stair that leads less far than this leads nowhere. */
const LEAST_GAIN = 1.01

/** Long enough for the speed to have settled. */
export function settleSec(known: KnownMotor): number {
  const wanted = SETTLE_TIME_CONSTANTS * (known.mechanicalSec ?? UNKNOWN_MECHANICAL_SEC)
  return Math.min(LONGEST_SETTLE_SEC, Math.max(SHORTEST_SETTLE_SEC, wanted))
}

/** What broke the shaft away is exceeded by this much in one step, while the line is not known further. */
const OVER_BREAK_AWAY = 1.3

/** The highest voltage that may be stepped to from standstill; null before anything is known. */
export function fromStandstillVolt({ known, limits }: PlanContext): number | null {
  const ceiling = ceilingAmp(limits)
  const byLine = stallVolt(known, ceiling)
  const { breakAwayVolt, breakAwayAmp } = known
  if (breakAwayVolt === null || breakAwayAmp === null) return byLine
  // Below the knee of the brush drop the current grows faster than the voltage.
  const tried = OVER_BREAK_AWAY ** 2 * breakAwayAmp <= ceiling ? OVER_BREAK_AWAY * breakAwayVolt : 0
  return Math.max(byLine ?? 0, tried)
}

/** Back-EMF to count on once the shaft has settled at a voltage. */
function settledBackEmfVolt(known: KnownMotor, line: StallLine, setVolt: number): number {
  const lostVolt = line.brushVolt + line.resistanceOhm * mostNoLoadAmp(known, setVolt)
  return COUNTED_ON * Math.max(0, setVolt - lostVolt)
}

export interface ClimbLevel {
  readonly volt: number
  /** Time at the level beyond settling. */
  readonly holdSec: number
  readonly purpose: string
}

/**
 * Drives the free shaft upwards through the levels in one direction, never down (which would brake
 * and pump the supply), with as many stairs between as the current limit asks for. Null where a
 * stair cannot lead higher.
 */
export function climb(
  context: PlanContext,
  direction: 1 | -1,
  levels: readonly ClimbLevel[],
): PlannedStep[] | null {
  const line = context.known.line
  const fromStandstill = fromStandstillVolt(context)
  if (!line || fromStandstill === null) return null
  const reach = LEAST_RESISTANCE_SHARE * line.resistanceOhm * ceilingAmp(context.limits)
  const settle = settleSec(context.known)
  const steps: PlannedStep[] = []
  let volt = 0
  let backEmf = 0
  levels.forEach((level, index) => {
    // A level just out of reach is lowered, but for the last; a stair right below it would be idle.
    let goal = level.volt
    while (volt < goal - LEVEL_TOLERANCE && steps.length < MOST_STAIRS) {
      const highest = backEmf === 0 ? fromStandstill : backEmf + reach
      if (highest <= volt * LEAST_GAIN) return
      if (index < levels.length - 1 && highest > LOWERED_SHARE * goal)
        goal = Math.min(goal, highest)
      const next = Math.min(goal, highest)
      const last = next >= goal - LEVEL_TOLERANCE
      const purpose = last ? level.purpose : 'stair: keeps the current low'
      const sec = settle + (last ? level.holdSec : 0)
      steps.push(turningStep(context, direction * next, sec, direction * backEmf, purpose))
      volt = next
      backEmf = settledBackEmfVolt(context.known, line, next)
    }
  })
  return volt >= levels.at(-1)!.volt - LEVEL_TOLERANCE ? steps : null
}

/**
 * The highest voltage for the free shaft under the voltage and speed limits; null where the speed is
 * limited and k is not known yet.
 */
export function highestFreeVolt({ known, limits }: PlanContext): number | null {
  if (limits.speedRadPerSec === null) return limits.voltageVolt
  const volt = freeVolt(known, SPEED_SHARE * limits.speedRadPerSec)
  return volt === null ? null : Math.min(limits.voltageVolt, volt)
}

/** Free speed is planned this far below the speed limit. */
const SPEED_SHARE = 0.9
