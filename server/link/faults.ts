import { WorkFault } from '../../src/base/faults.ts'

/** The other side of a link has gone: cable pulled, process ended, driver gave up. */
export class LinkLost extends Error {
  override readonly name = 'LinkLost'
}

export function isLinkLost(error: unknown): error is LinkLost {
  return error instanceof LinkLost
}

/** As the user is told of it where nothing could be saved. */
export function asWorkFault(error: LinkLost): WorkFault {
  return new WorkFault(error.message, { cause: error })
}
