import { contextOf } from './bench-answers.ts'
import { cool, foundRise, riseKelvin } from './heat.ts'
import type { Need } from './need.ts'
import { planSmallCurrent } from './plan-gentle.ts'
import {
  answeredNumber,
  type SequenceState,
  type StepTest,
  withProgress,
} from './sequence-state.ts'
import { positionTag } from './steps/locked-rotor.ts'
import { stallLine } from './stall-line.ts'
import type { StepSummary, TestSummary } from './test-summary.ts'

export const COOL_CHECK_TAG = 'cool-check'

/** A step that may not go on before the winding is cooler: wait a round, then look, if one can. */
export function coolDownNeed(state: SequenceState, nowSec: number, why: string): Need {
  const since = state.progress[state.step].coolingSinceSec ?? nowSec
  const untilSec = since + state.settings.coolDownSec
  if (nowSec < untilSec) return { type: 'wait', untilSec, why: `cool-down: ${why}` }
  const reference = coolReference(state)
  if (!reference)
    return { type: 'wait', untilSec: nowSec + state.settings.coolDownSec, why: `cool-down: ${why}` }
  return {
    type: 'test',
    tag: COOL_CHECK_TAG,
    role: 'probe',
    title: 'has the winding cooled?',
    planned: planSmallCurrent(contextOf(state), reference.step.setVolt),
  }
}

/** The first pulse of a run at the position at which the shaft is still clamped. */
function coolReference(state: SequenceState): { test: StepTest; step: StepSummary } | null {
  if (state.shaft.is !== 'locked') return null
  const tag = positionTag(state.shaft.position)
  const test = state.progress['locked-rotor'].tests.findLast(item => item.tag === tag)
  const step = test?.summary.steps.find(item => item.volt && item.amp && item.setVolt > 0)
  return test && step ? { test, step } : null
}

/** The rise found by a look at the winding, and another round of waiting begins. */
export function applyCoolCheck(
  state: SequenceState,
  summary: TestSummary,
  nowSec: number,
): SequenceState {
  const reference = coolReference(state)
  const line = stallLine(state.known.stallPoints)
  const next = withProgress(state, state.step, { coolingSinceSec: nowSec })
  const now = summary.steps.find(step => step.volt && step.amp)
  if (!reference || !now || !line) return next
  const before = ohms(reference.step, line.brushVolt)
  const after = ohms(now, line.brushVolt)
  if (!before || !after) return next
  const start = (answeredNumber(state, 'ambient') ?? 20) + reference.test.startRiseKelvin
  const rise = reference.test.startRiseKelvin + riseKelvin(after.ohm / before.ohm, start)
  const noise = riseKelvin(1 + Math.hypot(before.relative, after.relative), start)
  const heat = foundRise(cool(next.known.heat, nowSec), rise, noise)
  return { ...next, known: { ...next.known, heat } }
}

function ohms(step: StepSummary, brushVolt: number): { ohm: number; relative: number } | null {
  const volt = Math.abs(step.volt!.value) - brushVolt
  const amp = Math.abs(step.amp!.value)
  if (!(volt > 0 && amp > 0)) return null
  return {
    ohm: volt / amp,
    relative: Math.hypot(step.volt!.uncertainty / volt, step.amp!.uncertainty / amp),
  }
}
