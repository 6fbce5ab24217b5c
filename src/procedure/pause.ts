import type { SequenceCommand } from './sequence-command.ts'
import type { SequenceState } from './sequence-state.ts'

/** What the sequence is after an event, and what its caller is to do. */
export interface Transition {
  readonly state: SequenceState
  readonly commands: readonly SequenceCommand[]
}

export const tell = (text: string, tone: 'plain' | 'warning' = 'plain'): SequenceCommand => ({
  type: 'tell',
  tone,
  text,
})

/** What was going on is over; nothing happens until the operator resumes. */
export function pause(
  state: SequenceState,
  text: string,
  linkLost = state.pause?.linkLost ?? false,
  first: readonly SequenceCommand[] = [],
): Transition {
  const cutShort = state.pending?.type === 'test' ? state.pending : (state.pause?.cutShort ?? null)
  return {
    state: { ...state, pending: null, safe: false, pause: { text, linkLost, cutShort } },
    commands: [...first, tell(text, 'warning')],
  }
}
