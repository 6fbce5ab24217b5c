import type { Recording } from './recording.ts'
import type { TestKind } from './test-kind.ts'

/** What was known about the surroundings of a run; null where nobody said. */
export interface TestConditions {
  readonly ambientCelsius: number | null
  /** Winding at the start of the run; where null, the ambient is taken and the result says so. */
  readonly windingCelsius: number | null
  readonly supplyVolt: number | null
  readonly supplyLimitAmp: number | null
  /** Frequency at which the bridge switches the supply; null where its output is linear, or nobody said. */
  readonly switchingHz: number | null
  /** Marked shaft angle at which a rotor was locked. */
  readonly shaftAngleRad: number | null
  /** Inertia and drag that the bench adds to the rotor (coupling, disc), with standard uncertainties. */
  readonly fixture: FixtureLoad | null
  /** A known inertia or constant torque added for this run on top of the fixture. */
  readonly addedInertiaKgM2: number
  readonly loadTorqueNm: number
}

export interface FixtureLoad {
  readonly inertiaKgM2: number
  readonly inertiaUncertaintyKgM2: number
  readonly coulombTorqueNm: number
  readonly coulombTorqueUncertaintyNm: number
  readonly viscousNmsPerRad: number
  readonly viscousUncertaintyNmsPerRad: number
}

export const UNKNOWN_CONDITIONS: TestConditions = {
  ambientCelsius: null,
  windingCelsius: null,
  supplyVolt: null,
  supplyLimitAmp: null,
  switchingHz: null,
  shaftAngleRad: null,
  fixture: null,
  addedInertiaKgM2: 0,
  loadTorqueNm: 0,
}

/** One run as the analysis sees it. */
export interface TestRun {
  readonly id: number
  readonly kind: TestKind
  readonly recording: Recording
  readonly conditions: TestConditions
}
