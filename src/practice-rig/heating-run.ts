import type { PracticeMotor } from '../records/practice-motor.ts'
import { type TestRun, UNKNOWN_CONDITIONS } from '../records/test-run.ts'
import type { PracticeBench } from './bench.ts'
import { createPlant } from './create-plant.ts'
import { defaultBench } from './default-bench.ts'
import { REALISTIC, type PracticeSwitches } from './imperfections.ts'
import { joinRecordings } from './join-recordings.ts'
import { type PracticeStep, recordPractice } from './record-practice.ts'

export interface HeatingRunChoices {
  readonly bench: PracticeBench
  readonly switches: PracticeSwitches
  readonly benchSeed: number
  readonly rateHz: number
  /** Heated with the shaft locked at a constant voltage, then left to cool with small pulses. */
  readonly heatSec: number
  readonly coolSec: number
  /** Steady copper loss that is aimed at, cold. */
  readonly heatWatt: number
  /** Current of the small pulses over that of the heating. */
  readonly pulseShare: number
  readonly startCelsius: number
  readonly shaftAngleRad: number
}

const RATE_HZ = 1000
const WINDOW_SEC = 0.02
const PULSE_SEC = 0.06
const MARGIN_SEC = 0.005
/** Readings a while apart that grows as the courses slow down. */
const FIRST_WAIT_SEC = 0.5
const WAIT_SHARE = 0.03
const LONGEST_WAIT_SEC = 30

/**
 * A heating and cooling run of a practice motor: windows of samples while it is heated, then short pulses
 * between long rests, with a sample on either side in which no current flows. Default: copper loss that warms
 * the winding by 70 K in the end, for two and three time constants of the housing.
 */
export function practiceHeatingRun(
  motor: PracticeMotor,
  seed: number,
  choices: Partial<HeatingRunChoices> = {},
): TestRun {
  const bench = choices.bench ?? defaultBench(motor)
  const switches = choices.switches ?? REALISTIC
  const { thermal } = motor
  const housingSec = thermal.housingToAmbientKPerW * (thermal.housingJPerK + thermal.windingJPerK)
  const watt =
    choices.heatWatt ?? 70 / (thermal.windingToHousingKPerW + thermal.housingToAmbientKPerW)
  const ohm = motor.winding.copperOhm + motor.brush.contactOhm
  const amp = Math.sqrt(watt / ohm)
  const voltOf = (current: number) =>
    (ohm + bench.bridge.pathOhm + bench.supply.resistanceOhm) * current +
    motor.brush.dropVolt * Math.tanh(current / motor.brush.kneeAmp)
  const heat: PracticeStep = { bridge: 'drive', setVolt: voltOf(amp), durationSec: WINDOW_SEC }
  const rest: PracticeStep = { bridge: 'coast', setVolt: 0, durationSec: MARGIN_SEC }
  const pulse: PracticeStep = {
    bridge: 'drive',
    setVolt: voltOf((choices.pulseShare ?? 0.3) * amp),
    durationSec: PULSE_SEC,
  }
  const plant = createPlant(motor, bench, seed, {
    switches,
    benchSeed: choices.benchSeed ?? seed,
  })
  const startCelsius = choices.startCelsius ?? bench.ambientCelsius
  plant.setTemperatures(startCelsius, startCelsius)
  plant.setShaft({ hold: 'locked', angleRad: choices.shaftAngleRad ?? 0.3 })
  const record = (steps: readonly PracticeStep[]) => ({
    startSec: plant.timeSec,
    recording: recordPractice(plant, steps, choices.rateHz ?? RATE_HZ),
  })
  const parts = [record([rest, pulse, rest])]
  const heatedFrom = plant.timeSec
  const heatedTo = heatedFrom + (choices.heatSec ?? 2 * housingSec)
  parts.push(record([rest, heat]))
  for (const at of moments(heatedFrom, heatedTo)) {
    plant.setBridge('drive', heat.setVolt)
    plant.leap(at - WINDOW_SEC)
    parts.push(record([heat]))
  }
  parts.push(record([heat, rest]))
  for (const at of moments(heatedTo, heatedTo + (choices.coolSec ?? 3 * housingSec))) {
    plant.leap(at)
    parts.push(record([rest, pulse, rest]))
  }
  return {
    id: seed,
    kind: 'heating',
    recording: joinRecordings(parts),
    conditions: {
      ...UNKNOWN_CONDITIONS,
      ambientCelsius: bench.ambientCelsius,
      windingCelsius: startCelsius,
      supplyVolt: bench.supply.openVolt,
      supplyLimitAmp: bench.supply.limitAmp,
      shaftAngleRad: choices.shaftAngleRad ?? 0.3,
    },
  }
}

function moments(fromSec: number, toSec: number): number[] {
  const found: number[] = []
  let at = fromSec
  for (;;) {
    const wait = Math.min(LONGEST_WAIT_SEC, FIRST_WAIT_SEC + WAIT_SHARE * (at - fromSec))
    at += wait
    if (at > toSec) return found
    found.push(at)
  }
}
