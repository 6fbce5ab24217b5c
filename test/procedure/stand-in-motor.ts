import { seededNormal, seededUniform, type Uniform } from '../../src/base/random.ts'
import type { RigFacts } from '../../src/procedure/rig-facts.ts'
import type { TestPlan } from '../../src/procedure/test-plan.ts'
import {
  BRIDGE,
  type BridgeEdge,
  PLAIN_TRAITS,
  type Recording,
} from '../../src/records/recording.ts'
import type { WalkBench } from './walk-sequence.ts'

/** A motor just rich enough to drive the sequence: brush drop with a knee, break-away, heating. */
export interface StandInMotor {
  readonly resistanceOhm: number
  readonly inductanceHenry: number
  readonly constant: number
  readonly brushVolt: number
  readonly kneeAmp: number
  readonly coulombNm: number
  readonly breakAwayNm: number
  readonly viscous: number
  readonly inertiaKgM2: number
  readonly windingJPerKelvin: number
  /** Relative ripple of the resistance over the shaft angle, three periods a turn. */
  readonly angleRipple: number
}

export interface StandInBench extends WalkBench {
  readonly motor: StandInMotor
  readonly noise: () => number
  readonly noiseVolt: number
  windingRise: number
  /** The warmest that the winding ever was, over the start. */
  hottestMeanKelvin: number
  /** Factor on the constant: stalls may weaken magnets. */
  weakened: number
  locked: boolean
  angleRad: number
  /** The clamp gives way at this torque. */
  slipNm: number
  /** Something holds the free shaft. */
  jammed: boolean
  signs: { volt: 1 | -1; amp: 1 | -1; speed: 1 | -1 }
}

interface StandInRun {
  readonly recording: Recording
  readonly tripped: boolean
  readonly peakAmp: number
}

const logUniform = (uniform: Uniform, low: number, high: number) => low * (high / low) ** uniform()

/** A plausible motor for a power and a voltage: stall current, speed and friction in usual ratios. */
export function randomMotor(uniform: Uniform, powerWatt: number, volt: number): StandInMotor {
  const ratedAmp = (powerWatt / volt) * (1.2 + 0.5 * uniform())
  const stallAmp = ratedAmp * logUniform(uniform, 4, 10)
  const brushVolt = Math.min(0.15 * volt, logUniform(uniform, 0.05, 1))
  const resistanceOhm = (volt - brushVolt) / stallAmp
  const freeRadPerSec = logUniform(uniform, 250, 900)
  const constant = (0.93 * volt) / freeRadPerSec
  const noLoadAmp = stallAmp * logUniform(uniform, 0.01, 0.06)
  const coulombNm = constant * noLoadAmp * 0.7
  const mechanicalSec = logUniform(uniform, 0.008, 0.08)
  return {
    resistanceOhm,
    inductanceHenry: resistanceOhm * logUniform(uniform, 1e-4, 3e-3),
    constant,
    brushVolt,
    kneeAmp: stallAmp * logUniform(uniform, 0.003, 0.05),
    coulombNm,
    breakAwayNm: coulombNm * (1.1 + 0.4 * uniform()),
    viscous: (constant * noLoadAmp * 0.3) / freeRadPerSec,
    inertiaKgM2: (mechanicalSec * constant * constant) / resistanceOhm,
    windingJPerKelvin: 0.6 * powerWatt ** 0.75,
    angleRipple: 0.03 * uniform(),
  }
}

/** A rig whose sensors suit the motor: noise of a ten-thousandth of twice the stall current. */
export function suitedRig(motor: StandInMotor, supplyVolt: number): RigFacts {
  return standInRig({ supplyVolt, noiseAmp: (2e-4 * supplyVolt) / motor.resistanceOhm })
}

export function standInRig(changes: Partial<RigFacts> = {}): RigFacts {
  return {
    model: 'stand-in',
    serialNumber: 'S-1',
    simulated: true,
    channels: ['voltage', 'current', 'speed'],
    channelTexts: ['current: 1 mA a count, -32 A to 32 A'],
    ratesHz: [500, 1000, 2000, 4000],
    reversible: true,
    limits: {
      driveVolt: 48,
      currentAmp: 30,
      speedRadPerSec: 3000,
      busVolt: 60,
      stallSec: 0.8,
      longestDriveSec: 5,
    },
    supplyVolt: 24,
    ambientCelsius: 22,
    noiseAmp: 0.003,
    noiseRadPerSec: 0.2,
    pwmHz: null,
    ...changes,
  }
}

/** The winding gives its heat to the housing. */
const WINDING_SEC = 40

export function standInBench(motor: StandInMotor, rig: RigFacts, seed: number): StandInBench {
  const bench: StandInBench = {
    motor,
    rig,
    noise: seededNormal(seededUniform(seed)),
    noiseVolt: 1e-4 * (rig.supplyVolt ?? 24),
    windingRise: 0,
    hottestMeanKelvin: 0,
    weakened: 1,
    locked: false,
    angleRad: 0,
    slipNm: Number.POSITIVE_INFINITY,
    jammed: false,
    signs: { volt: 1, amp: 1, speed: 1 },
    setShaft(locked, angleRad) {
      bench.locked = locked
      bench.angleRad = angleRad ?? bench.angleRad
    },
    drive: plan => driveStandIn(bench, plan),
    rest(sec) {
      bench.windingRise *= Math.exp(-sec / WINDING_SEC)
    },
  }
  return bench
}

const COPPER_ZERO = 234.5
const STEP_VOLT_SHARE = 0.9995

/** Drives a plan from standstill and samples it. The bridge opens for good when the current trips. */
function driveStandIn(bench: StandInBench, plan: TestPlan): StandInRun {
  const { rig } = bench
  const motor = { ...bench.motor, constant: bench.weakened * bench.motor.constant }
  const ambient = rig.ambientCelsius ?? 20
  const total = plan.steps.reduce((sum, step) => sum + step.durationSec, 0)
  const count = Math.floor(total * plan.rateHz)
  const [timeSec, voltage, current, speed] = Array.from(
    { length: 4 },
    () => new Float64Array(count),
  )
  const bridge = new Uint8Array(count)
  const edges: BridgeEdge[] = []
  const tau = motor.inductanceHenry / motor.resistanceOhm
  const substeps = Math.min(4, Math.max(1, Math.ceil(4 / (plan.rateHz * tau))))
  const dt = 1 / (plan.rateHz * substeps)
  let amp = 0
  let omega = 0
  let angle = bench.angleRad
  let locked = bench.locked || bench.jammed
  let tripped = false
  let peakAmp = 0
  let stepIndex = -1
  let stepEnd = 0
  let state: BridgeEdge['state'] = 'coast'
  let setVolt = 0
  for (let i = 0; i < count; i++) {
    for (let sub = 0; sub < substeps; sub++) {
      const now = (i * substeps + sub) * dt
      while (stepIndex + 1 < plan.steps.length && now >= stepEnd - 1e-9 && !tripped) {
        const step = plan.steps[++stepIndex]!
        stepEnd += step.durationSec
        if (step.bridge !== state || step.setVolt !== setVolt) {
          state = step.bridge
          setVolt = step.setVolt
          edges.push({ timeSec: now, state, setVolt })
        }
      }
      const ripple = 1 + motor.angleRipple * Math.cos(3 * angle)
      const warm = (COPPER_ZERO + ambient + bench.windingRise) / (COPPER_ZERO + ambient)
      const ohm = motor.resistanceOhm * ripple * warm
      if (state === 'drive') {
        const drop = motor.brushVolt * Math.tanh(amp / motor.kneeAmp)
        const next = (setVolt - motor.constant * omega - drop - ohm * amp) / motor.inductanceHenry
        // Implicit in the resistive part: stable whatever the step.
        const stiff = 1 + (dt * (ohm + motor.brushVolt / motor.kneeAmp)) / motor.inductanceHenry
        amp += (dt * next) / stiff
      } else amp = 0
      const torque = motor.constant * amp
      if (locked && !bench.jammed && Math.abs(torque) > bench.slipNm) locked = false
      if (!locked) omega = turn(motor, omega, torque, dt)
      angle += omega * dt
      bench.windingRise += (amp * amp * ohm * dt) / motor.windingJPerKelvin
      peakAmp = Math.max(peakAmp, Math.abs(amp))
      bench.hottestMeanKelvin = Math.max(bench.hottestMeanKelvin, bench.windingRise)
      if (Math.abs(amp) > plan.steps[Math.max(stepIndex, 0)]!.currentLimitAmp && !tripped) {
        tripped = true
        state = 'coast'
        setVolt = 0
        edges.push({ timeSec: now, state, setVolt })
      }
    }
    const terminal = state === 'drive' ? setVolt * STEP_VOLT_SHARE : motor.constant * omega
    timeSec![i] = (i + 1) / plan.rateHz
    voltage![i] = bench.signs.volt * (terminal + bench.noiseVolt * bench.noise())
    current![i] =
      bench.signs.amp * (amp + (rig.noiseAmp ?? 0) * bench.noise()) + 0.5 * (rig.noiseAmp ?? 0)
    speed![i] = bench.signs.speed * (omega + (rig.noiseRadPerSec ?? 0) * bench.noise())
    bridge[i] = BRIDGE[state]
  }
  bench.angleRad = angle
  bench.rest(total)
  const columns = {
    voltage: voltage!,
    current: current!,
    ...(rig.channels.includes('speed') ? { speed: speed! } : {}),
  }
  const traits = { voltage: PLAIN_TRAITS, current: { ...PLAIN_TRAITS, noise: rig.noiseAmp } }
  const recording = { sampleCount: count, timeSec: timeSec!, columns, bridge, edges, traits }
  return { recording, tripped, peakAmp }
}

function turn(motor: StandInMotor, omega: number, torque: number, dt: number): number {
  if (omega === 0) {
    if (Math.abs(torque) <= motor.breakAwayNm) return 0
    return (dt * (torque - Math.sign(torque) * motor.coulombNm)) / motor.inertiaKgM2
  }
  const direction = Math.sign(omega)
  const next =
    omega +
    (dt * (torque - direction * motor.coulombNm - motor.viscous * omega)) / motor.inertiaKgM2
  return next * direction <= 0 && Math.abs(torque) <= motor.breakAwayNm ? 0 : next
}
