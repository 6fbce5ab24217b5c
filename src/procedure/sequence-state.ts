import type { FixtureLoad } from '../records/test-run.ts'
import { DEFAULT_RISE_LIMIT_KELVIN } from './limits.ts'
import type { KnownMotor } from './known-motor.ts'
import type { AnswerValue, Question } from './question.ts'
import type { RigFacts } from './rig-facts.ts'
import type { StepId } from './step.ts'
import type { TestPlan } from './test-plan.ts'
import type { TestSummary } from './test-summary.ts'

export interface SequenceSettings {
  /** Between the two small-current resistances that show whether the motor has soaked. */
  readonly soakIntervalSec: number
  /** One round of waiting for the winding to cool, before its resistance is looked at again. */
  readonly coolDownSec: number
  /** Shaft positions at which the rotor is locked. */
  readonly positions: number
  readonly longestCoastSec: number
  readonly zeroSec: number
  readonly riseLimitKelvin: number
}

export const BENCH_SETTINGS: SequenceSettings = {
  soakIntervalSec: 60,
  coolDownSec: 60,
  positions: 5,
  longestCoastSec: 30,
  zeroSec: 2,
  riseLimitKelvin: DEFAULT_RISE_LIMIT_KELVIN,
}

/** Nothing soaks in a simulation that was just started. */
export const SIMULATED_SETTINGS: SequenceSettings = {
  ...BENCH_SETTINGS,
  soakIntervalSec: 5,
  coolDownSec: 10,
  longestCoastSec: 4,
  zeroSec: 1,
}

/** Everything about a sequence under way. Plain data: it is stored as JSON and resumed from there. */
export interface SequenceState {
  readonly schema: 'sequence/1'
  readonly motor: string
  readonly rig: RigFacts
  readonly settings: SequenceSettings
  readonly fixture: FixtureLoad | null
  readonly above60VoltDeclared: boolean
  readonly step: StepId
  readonly progress: Readonly<Record<StepId, StepProgress>>
  readonly answers: Readonly<Record<string, AnswerValue>>
  /** On this connection. */
  readonly cautionsAcknowledged: boolean
  readonly shaft: ShaftState
  /** Disarmed, at standstill, terminals dead, and nothing driven since. */
  readonly safe: boolean
  readonly known: KnownMotor
  readonly pending: Pending | null
  readonly pause: Pause | null
  readonly warnings: readonly string[]
  readonly outcome: 'complete' | 'incomplete' | null
}

export type ShaftState =
  | { readonly is: 'unknown' }
  | { readonly is: 'free' }
  | { readonly is: 'locked'; readonly position: number; readonly angleRad: number | null }

export interface StepProgress {
  readonly status: 'to-do' | 'done' | 'skipped' | 'failed'
  readonly note: string | null
  readonly tests: readonly StepTest[]
  /** The step has to wait for the winding to cool: since when, and whether to look at it again now. */
  readonly coolingSinceSec: number | null
}

/** A finished test of a step. The tag says which part of the step it was. */
export interface StepTest {
  readonly tag: string
  readonly runId: number
  readonly role: TestRole
  readonly atSec: number
  readonly summary: TestSummary
  /** Bound of the mean rise of the winding when it began. */
  readonly startRiseKelvin: number
  /** Least heat capacity of the winding that was known after it. */
  readonly leastJPerKelvin: number
}

/** `probe` explores; only `measure` runs go to the identification. */
export type TestRole = 'probe' | 'measure'

export interface Pause {
  readonly text: string
  /** A new connection has to be made first. */
  readonly linkLost: boolean
  /** A test was under way: what it put into the winding is still to be told. */
  readonly cutShort: PendingTest | null
}

export interface PendingTest {
  readonly type: 'test'
  readonly tag: string
  readonly role: TestRole
  readonly title: string
  readonly plan: TestPlan
}

export type Pending =
  | { readonly type: 'ask'; readonly question: Question }
  | { readonly type: 'make-safe' }
  | PendingTest
  | { readonly type: 'wait'; readonly untilSec: number; readonly why: string }
  | { readonly type: 'identify' }

export const NO_PROGRESS: StepProgress = {
  status: 'to-do',
  note: null,
  tests: [],
  coolingSinceSec: null,
}

export function testsOf(state: SequenceState, step: StepId, tag?: string): readonly StepTest[] {
  const { tests } = state.progress[step]
  return tag === undefined ? tests : tests.filter(test => test.tag === tag)
}

/** The latest test of a step with a tag. */
export function lastTest(state: SequenceState, step: StepId, tag: string): StepTest | null {
  return testsOf(state, step, tag).at(-1) ?? null
}

export function withProgress(
  state: SequenceState,
  step: StepId,
  change: Partial<StepProgress>,
): SequenceState {
  const progress = { ...state.progress, [step]: { ...state.progress[step], ...change } }
  return { ...state, progress }
}

/** A number that was asked for, or null where it was not answered or not known. */
export function answeredNumber(state: SequenceState, questionId: string): number | null {
  const value = state.answers[questionId]
  return typeof value === 'number' ? value : null
}

export function measuresTurning(rig: RigFacts): boolean {
  return rig.channels.includes('speed') || rig.channels.includes('position')
}

/** Exploring pulses before the last few that taught nothing more about what the winding stands. */
const VAIN_TESTS = 3
const VAIN_GAIN = 1.1

export function learnsNoMore(tests: readonly StepTest[]): boolean {
  const before = tests.at(-1 - VAIN_TESTS)
  return before !== undefined && tests.at(-1)!.leastJPerKelvin < VAIN_GAIN * before.leastJPerKelvin
}
