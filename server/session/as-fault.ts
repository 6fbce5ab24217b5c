import { WorkFault } from '../../src/base/faults.ts'
import { LinkLost } from '../link/faults.ts'
import { AnswerMissing } from './rig-talk.ts'

/** A link that went or a rig that fell silent, as the user is told of it; anything else as it is. */
export function asFault(error: unknown): unknown {
  return error instanceof LinkLost || error instanceof AnswerMissing
    ? new WorkFault(error.message, { cause: error })
    : error
}
