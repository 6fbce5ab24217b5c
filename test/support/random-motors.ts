import { seededUniform } from '../../src/base/random.ts'
import type { ModelPoint } from '../../src/motor/parameters.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import { brake, coast, drive, ownModelRun, type ScriptStep } from './own-model.ts'

export const BRUSH_LAWS = ['none', 'sgn', 'tanh'] as const
export const TEST_SETS = ['locked and mixed', 'one test a run', 'turning only'] as const

/** A motor drawn at random with the tests made on it. */
export interface RandomCase {
  readonly seed: number
  readonly watt: number
  readonly supplyVolt: number
  readonly law: (typeof BRUSH_LAWS)[number]
  readonly tests: (typeof TEST_SETS)[number]
  readonly motor: ModelPoint
  /** Samples within L/R, locked and turning. */
  readonly samplesWithin: { readonly locked: number; readonly turning: number }
  readonly runs: readonly TestRun[]
}

const REFERENCE = 20
/** The slowest sampling still sees a free run, the quickest keeps a case small. */
const MOST_SAMPLES = 6000

/**
 * Motor number `seed`: rated power log-uniform from 0.5 W to 500 W, everything else log-uniform about what
 * is usual at that power (common practice, no source), rounded to two digits as on a data sheet; its tests,
 * sampling rates and noise are drawn with it. Runs are of the fit's own equations: this is about where a
 * fit starts and ends, not about physics that it does not know.
 */
export function randomCase(seed: number): RandomCase {
  const uniform = seededUniform(7919 * seed + 1)
  const between = (low: number, high: number) => low * (high / low) ** uniform()
  const about = (value: number, factor: number) => between(value / factor, value * factor)
  const pick = <T>(choices: readonly T[]) => choices[Math.floor(uniform() * choices.length)]!
  const maybe = (chance: number, value: number) => (uniform() < chance ? value : 0)

  const watt = rounded(between(0.5, 500))
  const volt = rounded(between(1.5 * watt ** 0.35, 8 * watt ** 0.3))
  const ohm = rounded(about((0.35 * volt * volt) / (4 * watt), 2))
  const speed = about(1000 * watt ** -0.2, 2)
  const k = rounded((0.9 * volt) / speed)
  const tauE = about(5e-4 * watt ** 0.2, 3)
  const tauM = Math.max(8 * tauE, about(0.02 * watt ** 0.15, 2.5))
  const law = pick(BRUSH_LAWS)
  const amp = volt / ohm
  const torque = k * amp
  const coulomb = rounded(torque * between(0.003, 0.1))
  const motor: ModelPoint = {
    resistanceOhm: ohm,
    inductanceHenry: rounded(ohm * tauE),
    backEmfConstantVsPerRad: k,
    torqueConstantNmPerA: k,
    brushDropVolt: law === 'none' ? 0 : rounded(volt * between(0.005, 0.08)),
    brushKneeAmp: law === 'tanh' ? rounded(amp * between(0.005, 0.1)) : 0,
    coulombTorqueNm: coulomb,
    staticExcessNm: maybe(1 / 3, rounded(coulomb * between(0.05, 0.5))),
    viscousNmsPerRad: rounded((torque / speed) * between(0.001, 0.03)),
    viscousDifferenceNmsPerRad: 0,
    windageNms2PerRad2: maybe(1 / 2, rounded((torque / speed ** 2) * between(0.0005, 0.01))),
    offsetTorqueNm: maybe(1 / 3, rounded(coulomb * between(0.02, 0.2))),
    inertiaKgM2: rounded((tauM * k * k) / ohm),
    heatingPerA2s: 0,
    coolingPerSec: 0,
    voltageZeroVolt: 0,
    currentZeroAmp: 0,
    speedZeroRadPerSec: 0,
  }
  const tests = pick(TEST_SETS)
  const scripts = scriptsOf(tests, volt, motor, uniform)
  const noise = {
    voltage: volt * between(2e-4, 3e-3),
    current: amp * between(2e-4, 3e-3),
    speed: (volt / k) * between(2e-4, 3e-3),
  }
  const within = { locked: between(0.3, 20), turning: between(0.3, 20) }
  const aperture = pick(['period', 'moment'] as const)
  const shortest = motor.inductanceHenry / ohm
  const longest = Math.max(...scripts.map(([, script]) => lengthSec(script)))
  const turningHz = Math.min(within.turning / shortest, MOST_SAMPLES / longest)
  const runs = scripts.map(([kind, script], n) =>
    ownModelRun(n + 1, kind, motor, script, {
      rateHz: kind === 'locked-rotor' ? within.locked / shortest : turningHz,
      aperture,
      noise,
      seed: 1000 * seed + n,
      referenceCelsius: REFERENCE,
      conditions: { ambientCelsius: REFERENCE, windingCelsius: REFERENCE },
    }),
  )
  const samplesWithin = { locked: within.locked, turning: turningHz * shortest }
  return { seed, watt, supplyVolt: volt, law, tests, motor, samplesWithin, runs }
}

type Script = readonly [kind: TestRun['kind'], steps: readonly ScriptStep[]]

function scriptsOf(
  tests: RandomCase['tests'],
  volt: number,
  motor: ModelPoint,
  uniform: () => number,
): Script[] {
  const tauE = motor.inductanceHenry / motor.resistanceOhm
  const tauM = (motor.inertiaKgM2 * motor.resistanceOhm) / motor.backEmfConstantVsPerRad ** 2
  // Edges lie anywhere within a sample.
  const some = (sec: number) => sec * (1 + 0.1 * uniform())
  const locked: Script = [
    'locked-rotor',
    [
      coast(some(10 * tauE)),
      ...[0.15, 0.25, 0.4, 0.5].flatMap(share => [
        drive(share * volt, some(12 * tauE)),
        coast(some(8 * tauE)),
        drive(-share * volt, some(12 * tauE)),
        coast(some(8 * tauE)),
      ]),
    ],
  ]
  const levels = (...shares: number[]) => shares.map(share => drive(share * volt, some(5 * tauM)))
  const rest = coast(some(0.5 * tauM))
  const down = coast(some(15 * tauM))
  const mixed: Script = [
    'mixed',
    [rest, ...levels(1, 0.5), brake(some(4 * tauM)), ...levels(-0.75, -1), down],
  ]
  switch (tests) {
    case 'locked and mixed':
      return [locked, mixed]
    case 'one test a run':
      return [
        locked,
        ['free-run', [rest, ...levels(0.4, 0.7, 1)]],
        ['free-run', [rest, ...levels(-0.4, -0.7, -1)]],
        ['coast-down', [rest, ...levels(1), down]],
      ]
    case 'turning only':
      return [mixed, ['coast-down', [rest, ...levels(1), down]]]
  }
}

const lengthSec = (script: readonly ScriptStep[]) => script.reduce((sum, { sec }) => sum + sec, 0)

const rounded = (value: number) => Number(value.toPrecision(2))
