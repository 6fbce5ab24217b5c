import type { PracticeMotor } from '../records/practice-motor.ts'
import type { TestConditions, TestRun } from '../records/test-run.ts'
import { UNKNOWN_CONDITIONS } from '../records/test-run.ts'
import type { PracticeBench } from './bench.ts'
import { createPlant } from './create-plant.ts'
import { defaultBench } from './default-bench.ts'
import { REALISTIC, type PracticeSwitches } from './imperfections.ts'
import { type BasicTest, practiceSteps } from './practice-steps.ts'
import { type RecordChoices, recordPractice } from './record-practice.ts'

export interface PracticeRunChoices extends RecordChoices {
  readonly bench: PracticeBench
  readonly switches: PracticeSwitches
  /** Draws the calibration errors; the same for all runs on one bench. */
  readonly benchSeed: number
  readonly rateHz: number
  /** Share of the test's usual voltage; negative turns it round. */
  readonly level: number
  readonly shaftAngleRad: number
  /** Winding and housing at the start; else at ambient temperature. */
  readonly startCelsius: number
  readonly addedInertiaKgM2: number
  readonly loadTorqueNm: number
  /** Delay of the first bridge edge, to move edges off the sample grid. */
  readonly leadSec: number
}

/** One test of a practice motor as the analysis would be handed it. */
export function practiceRun(
  motor: PracticeMotor,
  kind: BasicTest,
  seed: number,
  choices: Partial<PracticeRunChoices> = {},
): TestRun {
  const bench = choices.bench ?? defaultBench(motor)
  const switches = choices.switches ?? REALISTIC
  const plant = createPlant(motor, bench, seed, {
    switches,
    benchSeed: choices.benchSeed ?? seed,
  })
  const start = choices.startCelsius ?? bench.ambientCelsius
  plant.setTemperatures(start, start)
  const angle = choices.shaftAngleRad ?? 0
  const locked = kind === 'locked-rotor'
  if (locked) plant.setShaft({ hold: 'locked', angleRad: angle })
  plant.setLoad(choices.addedInertiaKgM2 ?? 0, -(choices.loadTorqueNm ?? 0))
  const steps = practiceSteps(motor, bench, kind, choices.level ?? 1, choices.leadSec ?? 0.02)
  return {
    id: seed,
    kind,
    recording: recordPractice(plant, steps, choices.rateHz ?? 10_000, choices),
    conditions: {
      ...conditionsOf(bench, start),
      shaftAngleRad: locked ? angle : null,
      addedInertiaKgM2: choices.addedInertiaKgM2 ?? 0,
      loadTorqueNm: choices.loadTorqueNm ?? 0,
    },
  }
}

/** Relative standard uncertainty to which a bench knows its coupling and disc. */
const FIXTURE_UNCERTAINTY = 0.02

function conditionsOf(bench: PracticeBench, startCelsius: number): TestConditions {
  const { fixture, supply, bridge } = bench
  const bare =
    fixture.inertiaKgM2 === 0 && fixture.coulombNm === 0 && fixture.viscousNmsPerRad === 0
  return {
    ...UNKNOWN_CONDITIONS,
    ambientCelsius: bench.ambientCelsius,
    windingCelsius: startCelsius,
    supplyVolt: supply.openVolt,
    supplyLimitAmp: supply.limitAmp,
    switchingHz: bridge.kind === 'pwm' ? bridge.pwmHz : null,
    fixture: bare
      ? null
      : {
          inertiaKgM2: fixture.inertiaKgM2,
          inertiaUncertaintyKgM2: FIXTURE_UNCERTAINTY * fixture.inertiaKgM2,
          coulombTorqueNm: fixture.coulombNm,
          coulombTorqueUncertaintyNm: FIXTURE_UNCERTAINTY * fixture.coulombNm,
          viscousNmsPerRad: fixture.viscousNmsPerRad,
          viscousUncertaintyNmsPerRad: FIXTURE_UNCERTAINTY * fixture.viscousNmsPerRad,
        },
  }
}

/**
 * Marked angles at which a practice rotor is locked: spread so that their mean cancels most of what
 * repeats 6 to 30 times a turn.
 */
export const LOCK_ANGLES_RAD = [4, 104, 164, 194, 274, 354].map(
  degrees => (degrees * Math.PI) / 180,
)

/**
 * The whole set of tests of one motor on one bench: zero, locked rotor at `LOCK_ANGLES_RAD`, free run,
 * run-up and coast-down both ways. Calibration errors are common to all, noise is not.
 */
export function practiceSuite(
  motor: PracticeMotor,
  seed: number,
  choices: Partial<PracticeRunChoices> = {},
): TestRun[] {
  const tests: { kind: BasicTest; level?: number; shaftAngleRad?: number }[] = [
    { kind: 'zero' },
    ...LOCK_ANGLES_RAD.map(shaftAngleRad => ({ kind: 'locked-rotor' as const, shaftAngleRad })),
    { kind: 'free-run' },
    { kind: 'run-up' },
    { kind: 'run-up', level: -1 },
    { kind: 'coast-down' },
    { kind: 'coast-down', level: -1 },
  ]
  return tests.map(({ kind, ...own }, index) => ({
    ...practiceRun(motor, kind, seed * 100 + index, { benchSeed: seed, ...choices, ...own }),
    id: index + 1,
  }))
}
