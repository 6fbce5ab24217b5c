import { hasMoved } from './learn.ts'
import type { TestPlan } from './test-plan.ts'
import type { StepSummary, TestSummary } from './test-summary.ts'

/** Something on the bench is wired or set the wrong way round, as far as the data can tell. */
export interface WiringHint {
  readonly code: 'voltage-reversed' | 'shunt-reversed' | 'speed-reversed' | 'switching-alias'
  readonly text: string
}

/** A sign is believed when the reading is this many standard uncertainties from zero. */
const SIGNIFICANT = 8

/** The sign conventions, checked on a driven test: positive voltage drives positive current and speed. */
export function wiringHints(plan: TestPlan, summary: TestSummary): WiringHint[] {
  const driven = summary.steps.filter(step => Math.abs(step.setVolt) > 0)
  const voltSign = agreement(driven, step => step.volt)
  const ampSign = agreement(driven, step => (voltSign === 0 ? null : step.amp))
  const turned = driven.filter(step => plan.shaft !== 'locked' && hasMoved(step))
  const speedSign = agreement(turned, step => step.radPerSec)
  const hints: WiringHint[] = []
  if (voltSign < 0) {
    hints.push({
      code: 'voltage-reversed',
      text: 'the voltage reads opposite to what the bridge applies: swap the voltage probe',
    })
  }
  if (ampSign < 0) {
    hints.push({
      code: 'shunt-reversed',
      text: 'the current reads opposite to the voltage applied: swap the leads of the shunt or turn the probe',
    })
  }
  if (speedSign < 0) {
    hints.push({
      code: 'speed-reversed',
      text: 'the speed reads opposite to the voltage applied: swap the encoder channels, or the motor leads if the positive rotation is the wrong one',
    })
  }
  if (summary.aliasHz !== null) {
    hints.push({
      code: 'switching-alias',
      text: `the switching of the bridge shows in the current at ${Math.round(summary.aliasHz)} Hz: sample in step with it, or average over whole periods`,
    })
  }
  return hints
}

/** +1 where the readings go with the set voltage, −1 where they go against it, 0 where they do not tell. */
function agreement(
  steps: readonly StepSummary[],
  reading: (step: StepSummary) => StepSummary['volt'],
): -1 | 0 | 1 {
  let against = 0
  let withIt = 0
  for (const step of steps) {
    const seen = reading(step)
    if (!seen || !(Math.abs(seen.value) > SIGNIFICANT * seen.uncertainty)) continue
    if (seen.value * step.setVolt > 0) withIt++
    else against++
  }
  if (against === withIt) return 0
  return against > withIt ? -1 : 1
}

/** A channel that nothing can be planned without and that shows no number; null where all read. */
export function muteChannel(plan: TestPlan, summary: TestSummary): string | null {
  const driven = summary.steps.filter(step => Math.abs(step.setVolt) > 0)
  if (driven.length === 0) {
    const drives = plan.steps.some(step => step.bridge === 'drive')
    return drives ? 'the record of the bridge' : null
  }
  if (driven.every(step => step.volt === null)) return 'the voltage channel'
  return driven.every(step => step.amp === null) ? 'the current channel' : null
}
