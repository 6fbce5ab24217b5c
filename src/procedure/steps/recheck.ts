import { contextOf } from '../bench-answers.ts'
import { backEmfConstant } from '../known-motor.ts'
import { steadyTurn } from '../learn.ts'
import { done, type Need, type StepLogic } from '../need.ts'
import { planSpin } from '../plan-spin.ts'
import { lastTest, type SequenceState, type StepTest } from '../sequence-state.ts'
import { needFreeShaft } from './shaft.ts'

/** Magnets and brushes settle by less from one turn to the next. Common practice, no source. */
const WEAKER_SHARE = 0.02

export const recheckStep: StepLogic = {
  id: 'recheck',
  title: 'Recheck of k',
  operatorDoes: 'Keep clear of the shaft.',
  rigDoes: 'The first slow turn once more: have the stalls weakened the magnets?',
  mayBeSkipped: true,
  next(state) {
    const before = lastTest(state, 'first-spin', 'spin')
    const volt = before?.summary.steps.at(-1)?.setVolt
    if (!before || volt === undefined) {
      return { type: 'leave-out', note: 'there was no turn before the stalls to compare with' }
    }
    const free = needFreeShaft(state, 'recheck')
    if (free) return free
    const after = lastTest(state, 'recheck', 'spin')
    if (after) return compare(state, before, after)
    return {
      type: 'test',
      tag: 'spin',
      role: 'probe',
      title: 'the first slow turn once more',
      planned: planSpin(contextOf(state), volt),
    }
  },
  durationSec: () => 1.6,
}

function compare(state: SequenceState, before: StepTest, after: StepTest): Need {
  const first = constantOf(state, before)
  const second = constantOf(state, after)
  if (!first || !second) return done('k could not be told from the slow turn')
  const change = second.k / first.k - 1
  const noise = Math.hypot(first.relative, second.relative)
  const note = `k changed by ${tenths(100 * change)} %, read to ± ${(200 * noise).toFixed(1)} %`
  if (change > -(WEAKER_SHARE + 3 * noise)) return done(note)
  return done(
    note,
    `k is lower than before the stalls (${note}): the magnets may have been weakened`,
  )
}

/** Both turns are read with the same resistance and brush drop, whose errors then cancel. */
function constantOf(
  { known }: SequenceState,
  test: StepTest,
): { k: number; relative: number } | null {
  const { line } = known
  const step = test.summary.steps.at(-1)
  const turn = steadyTurn(step)
  const k = line && turn && backEmfConstant(turn, line)
  if (!step?.volt || !step.amp || !step.radPerSec || !line || !turn || !k) return null
  const emfVolt = k * turn.radPerSec
  const relative = Math.hypot(
    step.radPerSec.uncertainty / turn.radPerSec,
    step.volt.uncertainty / emfVolt,
    (line.resistanceOhm * step.amp.uncertainty) / emfVolt,
  )
  return { k, relative }
}

/** One decimal; what rounds to nil has no sign. */
export const tenths = (value: number): string => (Math.round(10 * value) / 10 || 0).toFixed(1)
