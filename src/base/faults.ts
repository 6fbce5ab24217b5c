/**
 * Errors that reach the user as one line. Each says what is wrong, where, and what would be right.
 * The command line turns them into exit codes (`EXIT_CODE`), the HTTP API into statuses.
 */

/** Bad usage or bad input: nothing was written. */
export class InputFault extends Error {
  override readonly name = 'InputFault'
}

/** Bad input of one kind: what was named by its number is not there. */
export class MissingFault extends InputFault {}

/** The input was good but the work failed: lost link, full disk, no answer. */
export class WorkFault extends Error {
  override readonly name = 'WorkFault'
}

/** Stopped by the operator, or by the watch for safety. */
export class StoppedFault extends Error {
  override readonly name = 'StoppedFault'
}

export const EXIT_CODE = { done: 0, failed: 1, badInput: 2, stopped: 3 } as const
