import { seededNormal, seededUniform } from '../base/random.ts'
import type { LimitsDeclaration } from '../protocol/declaration.ts'
import type { PracticeMotor } from '../records/practice-motor.ts'
import type { PracticeBench } from './bench.ts'
import { createPlant, type PlantOptions } from './create-plant.ts'
import { stallAmp } from './default-bench.ts'
import { REALISTIC, withImperfections } from './imperfections.ts'
import type { Plant, Sampler } from './plant.ts'
import type { Hardware } from './rig-side/hardware.ts'

/** The hardware that a rig's firmware runs on, and the plant behind it for whoever holds the shaft. */
export interface PracticeHardware extends Hardware {
  readonly plant: Plant
}

const BURST = { periodNs: 5000, samples: 32_768 } as const
const PERIODS_NS = [
  50_000, 100_000, 200_000, 500_000, 1_000_000, 2_000_000, 5_000_000, 10_000_000,
] as const
const BOARD_LIMIT_CELSIUS = 100
/** Relative error of the bus measurement; resolution of the speed that the protection sees. */
const BUS_ERROR = 0.004
const SPEED_STEP = 0.05

export function createPracticeHardware(
  motor: PracticeMotor,
  bench: PracticeBench,
  seed: number,
  options: Partial<PlantOptions> = {},
): PracticeHardware {
  // The wire carries sixteen bits: sensors without quantisation are for studies only.
  const switches = withImperfections(options.switches ?? REALISTIC, { quantisation: true })
  const plant = createPlant(motor, bench, seed, { ...options, switches })
  const busGain = 1 + BUS_ERROR * seededNormal(seededUniform(seed * 31 + 3))()
  const countsPosition = bench.channels.some(c => c.quantity === 'position' && c.encoder !== null)
  const declared = new Map<number, Sampler['channels']>(
    PERIODS_NS.map(ns => [ns, plant.setSamplePeriod(ns * 1e-9).channels]),
  )
  const burstChannels = plant.setBurstPeriod(BURST.periodNs * 1e-9)!.channels
  plant.setBurstPeriod(null)
  let sampler: Sampler = plant.setSamplePeriod(PERIODS_NS[1] * 1e-9)
  let burst: Sampler | null = null
  return {
    plant,
    identity: {
      protocolVersion: 1,
      model: `practice rig, ${motor.name}`.slice(0, 40),
      serialNumber: `P${String(seed).padStart(6, '0')}`,
      firmware: 'practice 1',
      simulated: true,
      baud: 0,
      clockUncertainty: 0,
    },
    limits: limitsOf(motor, bench),
    periodsNs: PERIODS_NS,
    boardLimitCelsius: BOARD_LIMIT_CELSIUS,
    channelsAt: periodNs => declared.get(periodNs) ?? [],
    burstChannels,
    setBurst(on) {
      burst = plant.setBurstPeriod(on ? BURST.periodNs * 1e-9 : null)
    },
    sampleBurst: (counts, at) => burst?.read(counts, at),
    setSamplePeriod(periodNs) {
      sampler = plant.setSamplePeriod(periodNs * 1e-9)
    },
    setBridge: (mode, setVolt) => plant.setBridge(mode, setVolt),
    advance: (toSec, guards) => plant.advance(toSec, guards),
    get timeSec() {
      return plant.timeSec
    },
    sample: (counts, at) => sampler.read(counts, at),
    get busVolt() {
      return busGain * plant.state().busVolt
    },
    get speedRadPerSec() {
      return SPEED_STEP * Math.round(plant.state().speedRadPerSec / SPEED_STEP)
    },
    get boardCelsius() {
      return plant.state().boardCelsius
    },
    takeIndexPulses: () => plant.takeIndexPulses(),
    markZero() {
      if (countsPosition) plant.markZero()
      return countsPosition
    },
  }
}

/** Rounded to the thousandths in which the wire carries limits. */
const milli = (value: number) => Math.round(value * 1000) / 1000

function limitsOf(motor: PracticeMotor, bench: PracticeBench): LimitsDeclaration {
  const { openVolt } = bench.supply
  return {
    driveVolt: milli(openVolt),
    currentAmp: milli(1.1 * stallAmp(motor)),
    busLowVolt: milli(0.7 * openVolt),
    busHighVolt: milli(1.3 * openVolt),
    speedRadPerSec: milli(motor.rating.speedLimitRadPerSec),
    stallSec: 3,
    stallRadPerSec: 1,
    longestDriveSec: 60,
    watchdogSec: 0.3,
    currentTripSec: 50e-6,
    commandTripSec: 50e-6,
    reversible: true,
    pwmHz: bench.bridge.kind === 'pwm' ? bench.bridge.pwmHz : null,
    burst: BURST,
  }
}
