/** The steps of the guided sequence, in order. */
export const STEP_IDS = [
  'cautions',
  'questions',
  'zero',
  'soak',
  'first-spin',
  'locked-rotor',
  'unlock',
  'free-run',
  'run-up',
  'coast-down',
  'recheck',
  'identify',
] as const

export type StepId = (typeof STEP_IDS)[number]
