import type { AnswerValue, Question } from './question.ts'
import type { SequenceCommand } from './sequence-command.ts'
import { type SequenceState, withProgress } from './sequence-state.ts'
import { NOT_SEEN } from './steps/first-spin.ts'

/** What a valid answer changes, and what a simulated bench has to be told because of it. */
export function applyAnswer(
  state: SequenceState,
  question: Question,
  value: AnswerValue,
): { state: SequenceState; commands: readonly SequenceCommand[] } {
  const only = (next: SequenceState) => ({ state: next, commands: [] })
  const answered = { ...state, answers: { ...state.answers, [question.id]: value } }
  if (question.id === 'cautions') return only({ ...state, cautionsAcknowledged: true })
  if (question.id === 'shaft-free') {
    // Asked again whenever it is uncertain: the answer is not kept.
    return value === true ? shaftBecomes({ ...state, shaft: { is: 'free' } }) : only(state)
  }
  if (question.id === 'rotation' && value === NOT_SEEN) {
    const tests = state.progress['first-spin'].tests.filter(test => test.tag !== 'spin')
    return only(withProgress(state, 'first-spin', { tests }))
  }
  const clamp = /^clamp-(\d+)$/.exec(question.id)
  if (clamp) {
    const angleRad = typeof value === 'number' ? (value * Math.PI) / 180 : null
    return shaftBecomes({
      ...answered,
      shaft: { is: 'locked', position: Number(clamp[1]), angleRad },
    })
  }
  return only(answered)
}

function shaftBecomes(state: SequenceState) {
  const { shaft, rig } = state
  if (!rig.simulated || shaft.is === 'unknown') return { state, commands: [] }
  const command: SequenceCommand = {
    type: 'set-simulated-shaft',
    shaft: shaft.is,
    angleRad: shaft.is === 'locked' ? shaft.angleRad : null,
  }
  return { state, commands: [command] }
}
