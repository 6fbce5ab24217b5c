import type { PracticeMotor } from '../records/practice-motor.ts'
import { type TestRun, UNKNOWN_CONDITIONS } from '../records/test-run.ts'
import { createPlant } from './create-plant.ts'
import { defaultBench } from './default-bench.ts'
import { type PracticeStep, recordPractice } from './record-practice.ts'

export interface SlowTurnChoices {
  readonly benchSeed: number
  readonly turns: number
}

const RATE_HZ = 2000
const HAND_RAD_PER_SEC = 4
/** Share of the rated current that flows while the shaft is turned by hand. */
const HAND_SHARE = 0.4

/** The shaft turned slowly from outside under a small current: resistance over the angle. */
export function practiceHandTurn(
  motor: PracticeMotor,
  seed: number,
  choices: Partial<SlowTurnChoices> = {},
): TestRun {
  const bench = defaultBench(motor)
  const plant = createPlant(motor, bench, seed, { benchSeed: choices.benchSeed ?? seed })
  plant.setShaft({ hold: 'driven', speedRadPerSec: HAND_RAD_PER_SEC })
  const ohm = motor.winding.copperOhm + motor.brush.contactOhm
  const volt = motor.brush.dropVolt + HAND_SHARE * motor.rating.currentAmp * ohm
  const turnSec = (2 * Math.PI) / HAND_RAD_PER_SEC
  return asMixed(seed, bench.ambientCelsius, [
    plant,
    [
      { bridge: 'coast', setVolt: 0, durationSec: 0.05 },
      { bridge: 'drive', setVolt: volt, durationSec: (choices.turns ?? 1.2) * turnSec },
    ],
  ])
}

const STAIRS = 16
const STAIR_SEC = 0.2
const TURN_SEC = 0.8

/**
 * From standstill up a stair of small voltages until the shaft surely turns, then slowly on, then the other way
 * round: starting voltage and, where there is a gearbox, its play.
 */
export function practiceSlowTurn(
  motor: PracticeMotor,
  seed: number,
  choices: Partial<SlowTurnChoices> = {},
): TestRun {
  const bench = defaultBench(motor)
  const plant = createPlant(motor, bench, seed, { benchSeed: choices.benchSeed ?? seed })
  const { friction, cogging, magnet, brush, winding } = motor
  const holding = friction.staticNm + cogging.amplitudeNm + (motor.gear?.coulombNm ?? 0)
  const amp = (1.5 * holding) / magnet.backEmfConstantVsPerRad
  const top = brush.dropVolt + (winding.copperOhm + brush.contactOhm) * amp
  const rest: PracticeStep = { bridge: 'coast', setVolt: 0, durationSec: 0.1 }
  const stair = (sign: number) =>
    Array.from(
      { length: STAIRS },
      (_, n): PracticeStep => ({
        bridge: 'drive',
        setVolt: (sign * top * (n + 1)) / STAIRS,
        durationSec: STAIR_SEC,
      }),
    )
  const on = (sign: number): PracticeStep => ({
    bridge: 'drive',
    setVolt: 1.3 * sign * top,
    durationSec: TURN_SEC,
  })
  return asMixed(seed, bench.ambientCelsius, [
    plant,
    [rest, ...stair(1), on(1), on(-1), on(1), on(-1)],
  ])
}

function asMixed(
  id: number,
  celsius: number,
  recorded: readonly [ReturnType<typeof createPlant>, readonly PracticeStep[]],
): TestRun {
  return {
    id,
    kind: 'mixed',
    recording: recordPractice(recorded[0], recorded[1], RATE_HZ),
    conditions: { ...UNKNOWN_CONDITIONS, ambientCelsius: celsius, windingCelsius: celsius },
  }
}
