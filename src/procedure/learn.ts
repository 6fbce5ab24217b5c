import {
  assumeLeast,
  cool,
  type DriftSeen,
  learnCapacity,
  leastByConstantJPerKelvin,
  riseKelvin,
  warm,
  type WindingHeat,
} from './heat.ts'
import { type KnownMotor, knownBackEmf, type SteadyTurn } from './known-motor.ts'
import { type StallLine, type StallPoint, stallLine } from './stall-line.ts'
import type { TestPlan } from './test-plan.ts'
import type { StepSummary, TestSummary } from './test-summary.ts'

/** Further than a clamp gives: the shaft did not stand. */
const MOVED_RAD = 0.1
/** Further than a rotor rocks in its cogging, or still turning at the end: the shaft broke away. */
const BROKE_AWAY_RAD = 0.8
const STILL_TURNING_RAD_PER_SEC = 10
/** Points nearer than this to a new one of the same kind are replaced by it. */
const SAME_SHARE = 0.03

/** What is known after one more test. `nowSec` is the end of the test. */
export function learn(
  known: KnownMotor,
  plan: TestPlan,
  summary: TestSummary,
  nowSec: number,
): KnownMotor {
  const still = summary.steps.filter(step => plan.shaft === 'locked' || !hasMoved(step))
  const moved = summary.steps.filter(step => plan.shaft !== 'locked' && hasMoved(step))
  const stallPoints = learnPoints(known, plan, still, moved)
  const line = stallLine(stallPoints)
  const broke = moved.filter(hasBrokenAway)
  const breakAway = plan.shaft === 'any' ? lowestVolt(broke) : null
  const brokeLower =
    breakAway !== null &&
    Math.abs(breakAway.setVolt) < (known.breakAwayVolt ?? Number.POSITIVE_INFINITY)
  const next = {
    stallPoints,
    line,
    electricalSec: plan.shaft === 'locked' ? learnElectrical(known, still) : known.electricalSec,
    mechanicalSec: learnMechanical(known, moved),
    turns: learnTurns(known, plan, moved),
    breakAwayVolt: brokeLower ? Math.abs(breakAway.setVolt) : known.breakAwayVolt,
    breakAwayAmp: brokeLower ? breakAway.peakAmp : known.breakAwayAmp,
    heat: learnHeat(known, plan, summary, still, line, nowSec),
  }
  const k = knownBackEmf(next)
  if (!line || k === null) return next
  return { ...next, heat: assumeLeast(next.heat, leastByConstantJPerKelvin(k, line.resistanceOhm)) }
}

export function hasMoved(step: StepSummary): boolean {
  return step.turnedRad !== null && Math.abs(step.turnedRad) > MOVED_RAD
}

function hasBrokenAway({ turnedRad, radPerSec }: StepSummary): boolean {
  const isTurning = radPerSec !== null && Math.abs(radPerSec.value) > STILL_TURNING_RAD_PER_SEC
  return isTurning || Math.abs(turnedRad ?? 0) > BROKE_AWAY_RAD
}

function learnPoints(
  known: KnownMotor,
  plan: TestPlan,
  still: readonly StepSummary[],
  moved: readonly StepSummary[],
): readonly StallPoint[] {
  if (plan.shaft === 'free') return known.stallPoints
  const points = [
    ...still.flatMap(step => pointOf(step, step.amp?.value ?? null, true)),
    ...moved.flatMap(step => pointOf(step, step.peakAmp, false)),
  ]
  // One position with all its levels makes a line of its own; other positions have another resistance.
  const alone = stallLine(points)
  const before = known.line
  const replaces =
    alone !== null && before !== null && points.length >= 8 && alone.topAmp > 0.8 * before.topAmp
  return replaces ? points : points.reduce(withPoint, known.stallPoints)
}

function withPoint(points: readonly StallPoint[], added: StallPoint): readonly StallPoint[] {
  const near = (point: StallPoint) =>
    point.standing === added.standing &&
    Math.abs(point.amp - added.amp) < SAME_SHARE * Math.abs(added.amp)
  return [...points.filter(point => !near(point)), added]
}

function pointOf(step: StepSummary, amp: number | null, standing: boolean): StallPoint[] {
  if (!step.volt || !step.amp || amp === null) return []
  return [{ volt: step.volt.value, amp, uncertaintyAmp: step.amp.uncertainty, standing }]
}

/** From the largest pulse, whose rise is clearest. */
function learnElectrical(known: KnownMotor, still: readonly StepSummary[]): number | null {
  const clear = still.filter(step => step.currentRiseSec !== null && step.amp)
  if (clear.length === 0) return known.electricalSec
  const largest = clear.reduce((a, b) => (Math.abs(b.amp!.value) > Math.abs(a.amp!.value) ? b : a))
  return largest.currentRiseSec
}

/** Of turns that had time to become steady. */
function learnMechanical(known: KnownMotor, moved: readonly StepSummary[]): number | null {
  const rises = moved.flatMap(({ speedRiseSec, durationSec }) =>
    speedRiseSec !== null && speedRiseSec < STEADY_SHARE * durationSec ? [speedRiseSec] : [],
  )
  return rises.length > 0 ? Math.max(...rises) : known.mechanicalSec
}

/** Three time constants and more of a step are over at its end. */
const STEADY_SHARE = 0.33

/** Every step of a free run that was held; a new one takes the place of those nearly as fast. */
function learnTurns(
  known: KnownMotor,
  plan: TestPlan,
  moved: readonly StepSummary[],
): readonly SteadyTurn[] {
  if (plan.kind !== 'free-run') return known.turns
  return moved
    .filter(
      step => step.speedRiseSec === null || step.speedRiseSec < STEADY_SHARE * step.durationSec,
    )
    .flatMap(step => steadyTurn(step) ?? [])
    .reduce(withTurn, known.turns)
}

function withTurn(turns: readonly SteadyTurn[], added: SteadyTurn): readonly SteadyTurn[] {
  const near = (turn: SteadyTurn) => Math.abs(turn.volt / added.volt - 1) < SAME_SHARE
  return [...turns.filter(turn => !near(turn)), added].sort((a, b) => a.volt - b.volt)
}

export function steadyTurn(step: StepSummary | undefined): SteadyTurn | null {
  if (!step?.volt || !step.amp || !step.radPerSec || step.radPerSec.value === 0) return null
  return {
    volt: Math.abs(step.volt.value),
    amp: Math.abs(step.amp.value),
    radPerSec: Math.abs(step.radPerSec.value),
  }
}

function learnHeat(
  known: KnownMotor,
  plan: TestPlan,
  summary: TestSummary,
  still: readonly StepSummary[],
  line: StallLine | null,
  nowSec: number,
): WindingHeat {
  let heat = cool(known.heat, nowSec)
  for (const seen of still.flatMap(step => driftSeen(step, plan, line))) {
    heat = learnCapacity(heat, seen)
  }
  return summary.steps.reduce((sum, step) => {
    const most = heatJoule(step, plan, line)
    return warm(sum, most, ohmicShare(step, line) * most, nowSec)
  }, heat)
}

/** Of the voltage at standstill, what the winding takes and not the brushes. */
function ohmicShare(step: StepSummary, line: StallLine | null): number {
  if (!line || !step.volt || !(Math.abs(step.volt.value) > line.brushVolt)) return 1
  return 1 - line.brushVolt / Math.abs(step.volt.value)
}

/** The brush drop neither follows the temperature nor heats the winding. */
function driftSeen(step: StepSummary, plan: TestPlan, line: StallLine | null): DriftSeen[] {
  const share = ohmicShare(step, line)
  if (!step.drift || step.driftJoule === null || !(step.driftJoule > 0)) return []
  if (share < LEAST_OHMIC_SHARE) return []
  const start = plan.guard?.startCelsius ?? 20
  return [
    {
      energyJoule: share * step.driftJoule,
      riseKelvin: riseKelvin(1 + step.drift.value / share, start),
      uncertaintyKelvin: riseKelvin(1 + step.drift.uncertainty / share, start),
      locked: plan.shaft === 'locked',
    },
  ]
}

const LEAST_OHMIC_SHARE = 0.2

function heatJoule(step: StepSummary, plan: TestPlan, line: StallLine | null): number {
  const put = Math.max(0, step.energyJoule ?? 0)
  if (plan.shaft === 'locked' || !hasMoved(step) || !line || !step.amp) return put
  const amp = Math.abs(step.amp.value)
  const steady = amp * (amp * line.resistanceOhm + line.brushVolt) * step.durationSec
  const start = step.peakAmp ?? 0
  const settling = (start * start * line.resistanceOhm * (step.speedRiseSec ?? 0)) / 2
  return Math.min(put, steady + settling)
}

function lowestVolt(steps: readonly StepSummary[]): StepSummary | null {
  if (steps.length === 0) return null
  return steps.reduce((a, b) => (Math.abs(b.setVolt) < Math.abs(a.setVolt) ? b : a))
}
