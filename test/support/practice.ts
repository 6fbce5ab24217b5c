import { readdirSync, readFileSync } from 'node:fs'
import { readPracticeMotor } from '../../src/contract/practice-motor.ts'
import { createPlant } from '../../src/practice-rig/create-plant.ts'
import { defaultBench } from '../../src/practice-rig/default-bench.ts'
import { CLEAN } from '../../src/practice-rig/imperfections.ts'
import type { PracticeBench } from '../../src/practice-rig/bench.ts'
import type { Plant } from '../../src/practice-rig/plant.ts'
import type { PracticeMotor } from '../../src/records/practice-motor.ts'

const FOLDER = new URL('../../datasets/motors/', import.meta.url)

export const MOTOR_FILES = readdirSync(FOLDER).filter(name => name.endsWith('.json'))

export const motorText = (file: string) => readFileSync(new URL(file, FOLDER), 'utf8')

/** `name` without `.json`. */
export const practiceMotor = (name: string): PracticeMotor =>
  readPracticeMotor(motorText(`${name}.json`), name)

export interface TextbookNumbers {
  readonly ohm: number
  readonly henry: number
  readonly k: number
  readonly inertia: number
  readonly coulomb?: number
  readonly viscous?: number
  readonly brushVolt?: number
}

/** A motor of which nothing is left but the constants of a textbook example. */
export function textbookMotor(numbers: TextbookNumbers): PracticeMotor {
  const motor = practiceMotor('fennimore-24')
  const coulomb = numbers.coulomb ?? 0
  return {
    ...motor,
    rating: { ...motor.rating, speedLimitRadPerSec: 2000 },
    winding: { ...motor.winding, copperOhm: numbers.ohm, inductanceHenry: numbers.henry },
    magnet: { ...motor.magnet, backEmfConstantVsPerRad: numbers.k },
    brush: {
      ...motor.brush,
      dropVolt: numbers.brushVolt ?? 0,
      kneeAmp: 1e-4,
      contactOhm: 0,
      contactNoiseOhm: 0,
    },
    friction: {
      ...motor.friction,
      coulombNm: coulomb,
      staticNm: coulomb,
      viscousNmsPerRad: numbers.viscous ?? 0,
      windageNms2PerRad2: 0,
    },
    inertiaKgM2: numbers.inertia,
  }
}

/** At 20 degC, with a path and a supply that lose nothing. */
export function losslessBench(
  motor: PracticeMotor,
  openVolt: number,
  changes: Partial<PracticeBench['bridge']> = {},
): PracticeBench {
  const bench = defaultBench(motor, { ambientCelsius: 20 })
  return {
    ...bench,
    supply: { ...bench.supply, openVolt, limitAmp: Number.POSITIVE_INFINITY },
    bridge: { ...bench.bridge, pathOhm: 0, ...changes },
  }
}

export const cleanPlant = (motor: PracticeMotor, bench: PracticeBench): Plant =>
  createPlant(motor, bench, 1, { switches: CLEAN })
