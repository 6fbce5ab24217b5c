import { contextOf } from '../bench-answers.ts'
import { ask, done, type Need, type StepLogic } from '../need.ts'
import { planGentle, planHeatProbe } from '../plan-gentle.ts'
import { lockedGoalAmp, planLockedRotor, thermalAmp } from '../plan-locked-rotor.ts'
import { ceilingAmp, type PlanContext } from '../plan-parts.ts'
import { lastTest, type SequenceState, testsOf } from '../sequence-state.ts'
import { plannableAmp, stallLine } from '../stall-line.ts'
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
    if (shaft.is !== 'locked' || shaft.position !== position) {
      return ask(clampQuestion(position, state.settings.positions))
    }
    const context = contextOf(state)
    const heatShare = heatShareOf(state, position)
    return (
      (position === 1 ? exploring(state, context, heatShare) : null) ?? {
        type: 'test',
        tag: positionTag(position),
        role: 'measure',
        title: `locked rotor, position ${position} of ${state.settings.positions}`,
        planned: planLockedRotor(context, heatShare),
      }
    )
  },
  durationSec: state => PROBES_SEC + state.settings.positions * POSITION_SEC,
}

export const positionTag = (position: number) => `position-${position}`

/** The first position that is not measured yet; null when all are. */
export function openPosition(state: SequenceState): number | null {
  for (let position = 1; position <= state.settings.positions; position++) {
    if (!lastTest(state, 'locked-rotor', positionTag(position))) return position
  }
  return null
}

/** Each open position gets the same share of the rise still allowed; one share is left for the rest. */
function heatShareOf({ settings }: SequenceState, position: number): number {
  return 1 / (settings.positions - position + 2)
}

/**
 * Pulses that find out which levels can be measured: first the resistance, then how much heat the
 * winding takes. Null once nothing more is to be gained.
 */
function exploring(state: SequenceState, context: PlanContext, heatShare: number): Need | null {
  const { known, limits } = context
  const probes = testsOf(state, 'locked-rotor', 'explore')
  if (probes.length >= MOST_PROBES) return null
  const line = stallLine(known.stallPoints)
  const goal = lockedGoalAmp(known, limits)
  const standing = known.stallPoints.filter(point => point.standing).length
  const affordable = line && goal ? thermalAmp(context, line, goal, heatShare) : 0
  const reached =
    line !== null && goal !== null && plannableAmp(line) >= NEARLY * goal && standing >= 2
  if (reached && affordable >= NEARLY * goal) return null
  const test = { type: 'test', tag: 'explore', role: 'probe' } as const
  if (!reached) {
    const planned = planGentle(context, ceilingAmp(limits), 'locked')
    if (planned.ok) return { ...test, title: 'gentle pulse, shaft locked', planned }
  }
  if (heatProbesAreVain(state)) return null
  const planned = planHeatProbe(context, goal ?? ceilingAmp(limits))
  return { ...test, title: 'harmless pulse: how fast does the winding warm', planned }
}

/** The last probes did not widen what is known any more. */
const VAIN_GAIN = 1.1
const VAIN_PROBES = 3

function heatProbesAreVain(state: SequenceState): boolean {
  const probes = testsOf(state, 'locked-rotor', 'explore')
  if (probes.length < VAIN_PROBES) return false
  const energies = probes.map(test =>
    Math.max(0, ...test.summary.steps.map(step => step.energyJoule ?? 0)),
  )
  const latest = Math.max(...energies.slice(-VAIN_PROBES))
  const earlier = Math.max(0, ...energies.slice(0, -VAIN_PROBES))
  return earlier > 0 && latest < VAIN_GAIN * earlier
}

function topAmpText(state: SequenceState): string {
  const peaks = testsOf(state, 'locked-rotor').flatMap(test => test.summary.peakAmp ?? [])
  return `${Math.max(0, ...peaks).toPrecision(3)} A`
}
