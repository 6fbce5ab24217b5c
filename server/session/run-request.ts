import { InputFault } from '../../src/base/faults.ts'
import { TOUCHABLE_VOLT } from '../../src/procedure/limits.ts'
import type { DriveStep, TestPlan } from '../../src/procedure/test-plan.ts'
import type { RigFacts } from './rig-facts.ts'

/** Whether the plan moves current through the motor at all; coasting alone needs no arming. */
export function planDrives(plan: TestPlan): boolean {
  return plan.steps.some(step => step.bridge !== 'coast')
}

/** What a rig would refuse in mid-run, said before anything is armed or stored. */
export function checkPlan(plan: TestPlan, rig: RigFacts, declaredAbove60Volt: boolean): void {
  if (plan.steps.length === 0) throw new InputFault('the plan has no steps; give at least one')
  plan.steps.forEach((step, at) => {
    const problem = stepProblem(step, rig)
    if (problem) throw new InputFault(`step ${at + 1} (${step.purpose}): ${problem}`)
  })
  const highest = Math.max(...plan.steps.map(step => Math.abs(step.setVolt)), rig.busVolt)
  if (planDrives(plan) && highest > TOUCHABLE_VOLT && !declaredAbove60Volt) {
    throw new InputFault(
      `${highest.toFixed(1)} V are above ${TOUCHABLE_VOLT} V DC; the bench must be declared fit for it, and run by qualified people`,
    )
  }
}

function stepProblem(step: DriveStep, { limits, reversible }: RigFacts): string | null {
  const { bridge, setVolt, durationSec, currentLimitAmp } = step
  if (!(durationSec >= 0.001)) return `a duration of ${durationSec} s; must be at least 0.001 s`
  if (bridge === 'coast') return null
  if (durationSec > limits.longestDriveSec) {
    return `${durationSec} s are longer than the rig drives at a time; at most ${limits.longestDriveSec} s`
  }
  if (!(currentLimitAmp >= 0.001 && currentLimitAmp <= limits.currentAmp)) {
    return `a current limit of ${currentLimitAmp} A; must be from 0.001 A to the rig's ${limits.currentAmp} A`
  }
  if (bridge === 'brake') return null
  if (!(Math.abs(setVolt) <= limits.driveVolt)) {
    return `${setVolt} V; the rig drives at most ${limits.driveVolt} V`
  }
  return setVolt < 0 && !reversible ? `${setVolt} V; this rig drives forwards only` : null
}
