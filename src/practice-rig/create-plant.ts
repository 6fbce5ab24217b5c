import { seededNormal, seededUniform } from '../base/random.ts'
import type { PracticeMotor } from '../records/practice-motor.ts'
import type { Quantity } from '../records/quantity.ts'
import type { PracticeBench } from './bench.ts'
import { ripplesPerTurn } from './commutator.ts'
import { REALISTIC, type PracticeSwitches } from './imperfections.ts'
import type { Plant, PlantEdge, PlantGuards, PlantStop, Shaft } from './plant.ts'
import { createGearing } from './gearing.ts'
import { createPowerStage } from './power-stage.ts'
import { advanceRotor, type Circuit } from './rotor.ts'
import { createRotorAtRest, createRotorLaw, shaftTorqueNm } from './rotor-start.ts'
import { settle, stands } from './settled-rotor.ts'
import { createSampler, type MarkedSampler, type Measurands } from './sampler.ts'
import { drawSensorPieces } from './sensor.ts'
import { createTerminalParts } from './terminal-parts.ts'
import { createWarmth } from './warmth.ts'

export interface PlantOptions {
  readonly switches: PracticeSwitches
  /** Draws the calibration errors of the sensors, which a bench keeps from run to run. */
  readonly benchSeed: number
}

const TURN = 2 * Math.PI
const LONGEST_SPAN_SEC = 50e-6
const HEAT_SPAN_SEC = 200e-6
/** In a leap nothing but heat moves, and that slowly. */
const LEAP_SPAN_SEC = 0.02
/** A moment this near is reached. */
const NOW_SEC = 1e-12
/** A clamp that slips rubs with this share of the torque at which it gave way. */
const SLIP_SHARE = 0.7

/**
 * Step of the integration: a twentieth of the electrical time constant, of a PWM period and of the
 * shortest ripple, within 0.5 and 5 µs.
 */
export function chooseStepSec(motor: PracticeMotor, bench: PracticeBench): number {
  const ohm = motor.winding.copperOhm + motor.brush.contactOhm
  const ripples = ripplesPerTurn(motor.winding.segments, motor.winding.polePairs)
  const ripple = TURN / (ripples * motor.rating.speedLimitRadPerSec)
  const pwm = bench.bridge.kind === 'pwm' ? 1 / bench.bridge.pwmHz : Number.POSITIVE_INFINITY
  const shortest = Math.min(motor.winding.inductanceHenry / ohm, ripple, pwm)
  return Math.min(5e-6, Math.max(0.5e-6, shortest / 20))
}

/** A motor at rest on its bench, bridge in coast, everything at ambient temperature, time 0. */
export function createPlant(
  motor: PracticeMotor,
  bench: PracticeBench,
  seed: number,
  options: Partial<PlantOptions> = {},
): Plant {
  const switches = options.switches ?? REALISTIC
  const on = switches.imperfections
  const { fixture } = bench
  const supply = on.supplyResistance
    ? bench.supply
    : { ...bench.supply, resistanceOhm: 0, humVolt: 0 }
  const longestStep = chooseStepSec(motor, bench)
  const longestSpan =
    bench.bridge.kind === 'linear' ? LONGEST_SPAN_SEC : Math.min(LONGEST_SPAN_SEC, 4 * longestStep)
  const pieces = drawSensorPieces(bench, switches, options.benchSeed ?? seed, seed)
  const law = createRotorLaw(motor, fixture, on, seededNormal(seededUniform(seed * 31 + 7)))
  const rotor = createRotorAtRest(law)
  const stage = createPowerStage(bench, supply, rotor)
  const { pathOhm } = bench.bridge
  const warmth = createWarmth(motor, rotor, law, pathOhm, bench.ambientCelsius, on.heating)
  const circuit: Circuit = { kind: 'open', volt: 0, ohm: 0, limitAmp: 0, tripAmp: 0 }
  const parts = createTerminalParts(motor)
  const gearing = createGearing(motor.gear)
  const outer = { dryNm: fixture.coulombNm, staticNm: fixture.coulombNm }
  const positionCounts =
    bench.channels.find(c => c.quantity === 'position')?.encoder?.countsPerTurn ?? null

  let timeSec = 0
  let warmedSec = 0
  let zeroAngle = 0
  let sampler: MarkedSampler | null = null
  let burst: MarkedSampler | null = null
  let edges: PlantEdge[] = []
  let pulses: { timeSec: number; count: number }[] = []

  const measurands: Measurands = {
    get timeSec() {
      return timeSec
    },
    get angle() {
      return rotor.angle
    },
    get speed() {
      return rotor.speed
    },
    zeroCounts: countsPerTurn => Math.round((zeroAngle / TURN) * countsPerTurn),
    now(quantity: Quantity) {
      switch (quantity) {
        case 'voltage':
          return parts.isCut ? circuit.volt : rotor.terminalVolt
        case 'current':
          return rotor.currentAmp + parts.amp
        case 'speed':
          return rotor.speed
        case 'position':
          return rotor.angle - zeroAngle
        case 'temperature':
          return warmth.heat.windingCelsius
        case 'ambient':
          return warmth.ambientCelsius
        case 'torque':
          return shaftTorqueNm(motor, law, rotor)
        default:
          return quantity satisfies never
      }
    },
    integral: quantity =>
      quantity === 'voltage'
        ? rotor.voltSec + parts.voltSec
        : quantity === 'current'
          ? rotor.ampSec + parts.ampSec
          : rotor.angle,
  }

  /** One stretch in which the circuit stays as it is. */
  function move(spanSec: number): void {
    const timeBefore = timeSec
    const angleBefore = rotor.angle
    const ampSecBefore = rotor.ampSec
    const voltBefore = rotor.terminalVolt
    gearing.feel(rotor, law, outer, circuit.volt)
    const steps = Math.ceil(spanSec / longestStep - 1e-6)
    const step = spanSec / steps
    const done = advanceRotor(rotor, law, circuit, steps, step)
    timeSec = timeBefore + (done === steps ? spanSec : done * step)
    const moved = timeSec - timeBefore
    parts.pass(circuit, voltBefore, rotor, moved)
    gearing.turn(rotor.angle - angleBefore)
    stage.feed(circuit, (rotor.ampSec - ampSecBefore) / moved, timeSec, moved)
    if (positionCounts !== null) passIndex(positionCounts, angleBefore, timeBefore)
    if (timeSec - warmedSec > HEAT_SPAN_SEC) {
      warmth.catchUp(timeSec)
      warmedSec = timeSec
    }
  }

  function passIndex(countsPerTurn: number, angleBefore: number, timeBefore: number): void {
    const low = Math.floor(Math.min(angleBefore, rotor.angle) / TURN)
    const high = Math.floor(Math.max(angleBefore, rotor.angle) / TURN)
    if (low === high) return
    const share = (high * TURN - angleBefore) / (rotor.angle - angleBefore)
    pulses.push({
      timeSec: timeBefore + share * (timeSec - timeBefore),
      count: high * countsPerTurn - measurands.zeroCounts(countsPerTurn),
    })
  }

  function passedGuard(guards: PlantGuards): PlantStop | null {
    if (stage.mode === 'coast') return null
    const amp = rotor.currentAmp
    const { busVolt } = stage
    if (Math.abs(amp) > guards.currentAmp) return { timeSec, cause: 'over-current', value: amp }
    if (Math.abs(rotor.speed) > guards.speedRadPerSec) {
      return { timeSec, cause: 'over-speed', value: rotor.speed }
    }
    return busVolt > guards.busHighVolt ? { timeSec, cause: 'bus-high', value: busVolt } : null
  }

  return {
    get timeSec() {
      return timeSec
    },
    setBridge(mode, volt) {
      stage.set(mode, volt)
      edges.push({ timeSec, mode, setVolt: stage.setVolt })
    },
    setShaft(shaft: Shaft) {
      const slipNm = shaft.hold === 'slipping' ? shaft.slipNm : 0
      outer.dryNm = fixture.coulombNm + SLIP_SHARE * slipNm
      outer.staticNm = fixture.coulombNm + slipNm
      law.outerDryNm = outer.dryNm
      law.outerStaticNm = outer.staticNm
      law.hold = shaft.hold === 'slipping' ? 'free' : shaft.hold
      rotor.acceleration = 0
      if (shaft.hold === 'driven') rotor.speed = shaft.speedRadPerSec
      if (shaft.hold === 'locked' || shaft.hold === 'slipping') {
        rotor.speed = 0
        rotor.angle = Math.floor(rotor.angle / TURN) * TURN + shaft.angleRad
        // The brushes settle anew on the segment, even on the one they were on.
        rotor.segment = Number.NaN
      }
    },
    setLoad(inertiaKgM2, torqueNm) {
      law.inertiaKgM2 = motor.inertiaKgM2 + fixture.inertiaKgM2 + inertiaKgM2
      law.externalNm = torqueNm
    },
    setAmbient(celsius) {
      warmth.ambientCelsius = celsius
    },
    setTemperatures: warmth.set,
    leap(toSec) {
      if (!stands(rotor, law.hold, stage.mode)) {
        throw new RangeError(
          `leap at ${timeSec} s; the shaft must be locked, or at rest with the bridge off`,
        )
      }
      while (toSec - timeSec > NOW_SEC) {
        const spanSec = Math.min(toSec - timeSec, LEAP_SPAN_SEC)
        stage.connect(circuit, timeSec)
        const voltBefore = rotor.terminalVolt
        parts.cut(circuit, rotor, warmth.heat.windingCelsius)
        settle(rotor, law, circuit, spanSec)
        parts.pass(circuit, voltBefore, rotor, spanSec)
        timeSec += spanSec
        warmth.catchUp(timeSec)
        warmedSec = timeSec
      }
      sampler = null
      burst = null
    },
    setSamplePeriod(periodSec) {
      sampler = createSampler(bench, switches, measurands, periodSec, pieces)
      return sampler
    },
    setBurstPeriod(periodSec) {
      burst =
        periodSec === null ? null : createSampler(bench, switches, measurands, periodSec, pieces)
      return burst
    },
    markZero() {
      zeroAngle = rotor.angle
    },
    advance(toSec, guards) {
      while (toSec - timeSec > NOW_SEC) {
        let until = Math.min(toSec, stage.connect(circuit, timeSec), timeSec + longestSpan)
        if (sampler !== null) until = Math.min(until, sampler.nextMarkSec)
        if (burst !== null) until = Math.min(until, burst.nextMarkSec)
        parts.cut(circuit, rotor, warmth.heat.windingCelsius)
        circuit.tripAmp = stage.mode === 'coast' ? Number.POSITIVE_INFINITY : guards.currentAmp
        if (until > timeSec) move(until - timeSec)
        if (sampler !== null && timeSec >= sampler.nextMarkSec - NOW_SEC) sampler.passMark()
        if (burst !== null && timeSec >= burst.nextMarkSec - NOW_SEC) burst.passMark()
        const stop = passedGuard(guards)
        if (stop !== null) return stop
      }
      return null
    },
    state: () => ({
      timeSec,
      currentAmp: rotor.currentAmp,
      terminalVolt: rotor.terminalVolt,
      speedRadPerSec: rotor.speed,
      angleRad: rotor.angle,
      busVolt: stage.busVolt,
      ...warmth.heat,
      boardCelsius: warmth.boardCelsius,
      shaftTorqueNm: shaftTorqueNm(motor, law, rotor),
      bridge: stage.mode,
    }),
    energy: () => ({
      input: rotor.inputJoule,
      copper: rotor.copperJoule,
      contact: rotor.contactJoule,
      friction: rotor.frictionJoule,
    }),
    takeEdges() {
      const taken = edges
      edges = []
      return taken
    },
    takeIndexPulses() {
      const taken = pulses
      pulses = []
      return taken
    },
  }
}
