import { contextOf } from '../bench-answers.ts'
import { allowedMeanRise, HOTTEST_OVER_MEAN, likelyJPerKelvin } from '../heat.ts'
import { ask, done, type Need, type StepLogic } from '../need.ts'
import { planGentle } from '../plan-gentle.ts'
import { lockedGoalAmp, planLockedRotor, thermalAmp } from '../plan-locked-rotor.ts'
import { ceilingAmp } from '../plan-parts.ts'
import {
  lastTest,
  learnsNoMore,
  type SequenceState,
  type StepTest,
  testsOf,
} from '../sequence-state.ts'
import { plannableAmp } from '../stall-line.ts'
import { clampQuestion } from './shaft.ts'

const MOST_PROBES = 24
const NEARLY = 0.97
const POSITION_SEC = 2.5
const PROBES_SEC = 4

export const lockedRotorStep: StepLogic = {
  id: 'locked-rotor',
  title: 'Locked rotor',
  operatorDoes:
    'Clamp the shaft at each marked position when asked, then keep hands off and stay out of the arc of the bar.',
  rigDoes:
    'Pulses of both polarities at rising levels, a gentle one before each level that proves the shaft locked.',
  mayBeSkipped: true,
  next(state) {
    const position = openPosition(state)
    if (position === null) {
      return done(`${state.settings.positions} positions, up to ${topAmpText(state)}`)
    }
    const { shaft } = state
    const measure = measuring(state, position)
    if (shaft.is !== 'locked' || shaft.position !== position) {
      // Whether the winding has cooled can only be seen where the shaft is still clamped.
      const tooWarm = !measure.planned.ok && measure.planned.error.code === 'too-warm'
      if (tooWarm && shaft.is === 'locked') return measure
      return ask(clampQuestion(position, state.settings.positions))
    }
    return (position === 1 ? exploring(state) : null) ?? measure
  },
  durationSec: state => PROBES_SEC + state.settings.positions * POSITION_SEC,
}

function measuring(state: SequenceState, position: number): Need & { type: 'test' } {
  return {
    type: 'test',
    tag: positionTag(position),
    role: 'measure',
    title: `locked rotor, position ${position} of ${state.settings.positions}`,
    planned: planLockedRotor(contextOf(state), heatShareOf(state, position)),
  }
}

export const EXPLORE_TAG = 'explore'
export const positionTag = (position: number) => `position-${position}`

/** The first position that is not measured yet; null when all are. */
export function openPosition(state: SequenceState): number | null {
  for (let position = 1; position <= state.settings.positions; position++) {
    if (!lastTest(state, 'locked-rotor', positionTag(position))) return position
  }
  return null
}

/** Of the rise allowed, what may be used up by the end of exploring, and of the locked rotor. */
const EXPLORING_HEAT = 0.35
const LOCKED_HEAT = 0.7

/** Each open position gets the same share of what the locked rotor may use. */
function heatShareOf({ settings, known }: SequenceState, position: number): number {
  const allowed = allowedMeanRise(known.heat, settings.riseLimitKelvin)
  const kept = (1 - LOCKED_HEAT) * (settings.riseLimitKelvin / HOTTEST_OVER_MEAN)
  if (!(allowed > kept)) return 0
  return (1 - kept / allowed) / (settings.positions - position + 1)
}

/**
 * Pulses that find out which levels can be measured: first the resistance, then how much heat the
 * winding takes. Null once nothing more is to be gained.
 */
function exploring(state: SequenceState): Need | null {
  const context = contextOf(state)
  const { known, limits } = context
  const probes = testsOf(state, 'locked-rotor', EXPLORE_TAG)
  const used =
    1 - allowedMeanRise(known.heat, limits.riseKelvin) / (limits.riseKelvin / HOTTEST_OVER_MEAN)
  const vain = learnsNoMore(probes) || likelyJPerKelvin(known.heat) !== null
  if (probes.length >= MOST_PROBES || used > (vain ? EXPLORING_HEAT : LOCKED_HEAT)) return null
  const line = known.line
  const goal = lockedGoalAmp(known, limits)
  const standing = known.stallPoints.filter(point => point.standing).length
  const affordable = line && goal ? thermalAmp(context, line, goal, heatShareOf(state, 1)) : 0
  const reached =
    line !== null && goal !== null && plannableAmp(line) >= NEARLY * goal && standing >= 2
  if (reached && affordable >= NEARLY * goal) return null
  if (vain && (reached || (probes.length > 1 && !growing(probes)))) return null
  const planned = planGentle(context, goal ?? ceilingAmp(limits), 'locked')
  if (!planned.ok) return null
  return {
    type: 'test',
    tag: EXPLORE_TAG,
    role: 'probe',
    title: 'gentle pulse, shaft locked',
    planned,
  }
}

/** The last pulse was clearly stronger than the one before. */
function growing(probes: readonly StepTest[]): boolean {
  const peak = (test: StepTest | undefined) => test?.summary.peakAmp ?? 0
  return peak(probes.at(-1)) > 1.05 * peak(probes.at(-2))
}

function topAmpText(state: SequenceState): string {
  const peaks = testsOf(state, 'locked-rotor').flatMap(test => test.summary.peakAmp ?? [])
  return `${Math.max(0, ...peaks).toPrecision(3)} A`
}
