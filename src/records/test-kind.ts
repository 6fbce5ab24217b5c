/** The tests of a motor. `mixed`: several phases in one recording; they are found in the data. */
export const TEST_KINDS = [
  'zero',
  'locked-rotor',
  'free-run',
  'run-up',
  'coast-down',
  'back-driven',
  'load',
  'heating',
  'mixed',
] as const

export type TestKind = (typeof TEST_KINDS)[number]

export function isTestKind(text: string): text is TestKind {
  return (TEST_KINDS as readonly string[]).includes(text)
}

/** How a run ended. A run whose logger died is found open in the store and becomes `interrupted`. */
export const RUN_ENDINGS = [
  'open',
  'complete',
  'stopped',
  'tripped',
  'link-lost',
  'interrupted',
  'imported',
] as const

export type RunEnding = (typeof RUN_ENDINGS)[number]
