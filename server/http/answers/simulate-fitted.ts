import type { Simulate } from './fitted-shelf.ts'

/** The fitted motor under the voltage of a run. */
export const simulateFitted: Simulate = () => ({ trouble: 'no fitted curve' })
