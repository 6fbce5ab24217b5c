import { seededNormal, seededUniform } from '../base/random.ts'
import type { BridgeMode } from '../protocol/bridge.ts'
import type { PracticeMotor } from '../records/practice-motor.ts'
import type { Quantity } from '../records/quantity.ts'
import type { PracticeBench } from './bench.ts'
import { ripplesPerTurn } from './commutator.ts'
import { advanceHeat, copperFactor } from './heat.ts'
import { REALISTIC, type PracticeSwitches } from './imperfections.ts'
import type { Plant, PlantEdge, PlantGuards, PlantStop, Shaft } from './plant.ts'
import { findPwmPhase } from './pwm.ts'
import { advanceRotor, type Circuit, type RotorLaw, type RotorState } from './rotor.ts'
import { createSampler, type MarkedSampler, type Measurands } from './sampler.ts'
import { drawSensorPieces } from './sensor.ts'
import { advanceBus } from './supply-bus.ts'
import { buildTurnTable } from './turn-table.ts'

export interface PlantOptions {
  readonly switches: PracticeSwitches
  /** Draws the calibration errors of the sensors, which a bench keeps from run to run. */
  readonly benchSeed: number
}

const TURN = 2 * Math.PI
const LONGEST_SPAN_SEC = 50e-6
const HEAT_SPAN_SEC = 200e-6
/** A moment this near is reached. */
const NOW_SEC = 1e-12
/** A clamp that slips rubs with this share of the torque at which it gave way. */
const SLIP_SHARE = 0.7
/** The bridge on its heat sink, which a rig reports as its board temperature. */
const BOARD_J_PER_K = 25
const BOARD_K_PER_W = 6

/**
 * Step of the integration: a twentieth of the electrical time constant, of a PWM period and of the
 * shortest ripple, within 0.5 and 5 µs.
 */
export function chooseStepSec(motor: PracticeMotor, bench: PracticeBench): number {
  const electrical =
    motor.winding.inductanceHenry / (motor.winding.copperOhm + motor.brush.contactOhm)
  const ripples = ripplesPerTurn(motor.winding.segments, motor.winding.polePairs)
  const ripple = TURN / (ripples * motor.rating.speedLimitRadPerSec)
  const pwm = bench.bridge.kind === 'pwm' ? 1 / bench.bridge.pwmHz : Number.POSITIVE_INFINITY
  return Math.min(5e-6, Math.max(0.5e-6, Math.min(electrical, ripple, pwm) / 20))
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
  const { friction, thermal } = motor
  const supply = on.supplyResistance
    ? bench.supply
    : { ...bench.supply, resistanceOhm: 0, humVolt: 0 }
  const { bridge, fixture } = bench
  const linear = bridge.kind === 'linear'
  const pwmPeriodSec = 1 / bridge.pwmHz
  const longestStep = chooseStepSec(motor, bench)
  const longestSpan = linear ? LONGEST_SPAN_SEC : Math.min(LONGEST_SPAN_SEC, 4 * longestStep)
  const pieces = drawSensorPieces(bench, switches, options.benchSeed ?? seed, seed)
  const contactNormal = seededNormal(seededUniform(seed * 31 + 7))
  const contactNoise = on.contactNoise ? motor.brush.contactNoiseOhm : 0
  const redrawContact = () =>
    Math.max(0, motor.brush.contactOhm + (contactNoise > 0 ? contactNoise * contactNormal() : 0))

  const law: RotorLaw = {
    table: buildTurnTable(motor, on),
    inductanceHenry: motor.winding.inductanceHenry,
    copperFactor: 1,
    fluxFactor: 1,
    dropVolt: motor.brush.dropVolt,
    kneeAmp: motor.brush.kneeAmp,
    inertiaKgM2: motor.inertiaKgM2 + fixture.inertiaKgM2,
    coulombNm: friction.coulombNm,
    staticNm: on.breakAway ? friction.staticNm : friction.coulombNm,
    stribeckRadPerSec: friction.stribeckRadPerSec,
    directionShare: on.frictionDirection ? friction.directionShare : 0,
    outerDryNm: fixture.coulombNm,
    outerStaticNm: fixture.coulombNm,
    viscous: friction.viscousNmsPerRad + fixture.viscousNmsPerRad,
    windage: friction.windageNms2PerRad2,
    externalNm: 0,
    hold: 'free',
    ripples: ripplesPerTurn(motor.winding.segments, motor.winding.polePairs),
    redrawContact,
  }
  const rotor: RotorState = {
    currentAmp: 0,
    speed: 0,
    angle: 0,
    acceleration: 0,
    terminalVolt: 0,
    innerTorqueNm: 0,
    contactOhm: redrawContact(),
    segment: 0,
    voltSec: 0,
    ampSec: 0,
    amp2Sec: 0,
    inputJoule: 0,
    copperJoule: 0,
    contactJoule: 0,
    frictionJoule: 0,
  }
  const circuit: Circuit = { kind: 'open', volt: 0, ohm: 0, limitAmp: 0, tripAmp: 0 }
  const heat = { windingCelsius: bench.ambientCelsius, housingCelsius: bench.ambientCelsius }
  const phase = { on: false, untilSec: 0 }

  let timeSec = 0
  let mode: BridgeMode = 'coast'
  let setVolt = 0
  let busVolt = supply.openVolt
  let ambient = bench.ambientCelsius
  let boardCelsius = bench.ambientCelsius
  let addedInertia = 0
  let zeroAngle = 0
  let sampler: MarkedSampler | null = null
  let burst: MarkedSampler | null = null
  let edges: PlantEdge[] = []
  let pulses: { timeSec: number; count: number }[] = []
  let heatedSec = 0
  let heatedCopper = 0
  let heatedRest = 0
  let heatedAmp2 = 0
  const indexCounts =
    bench.channels.find(c => c.quantity === 'position' && c.encoder !== null)?.encoder
      ?.countsPerTurn ?? null

  function followTemperature(): void {
    law.copperFactor = copperFactor(heat.windingCelsius)
    law.fluxFactor = 1 + motor.magnet.coefficientPerKelvin * (heat.housingCelsius - 20)
  }

  function warm(): void {
    const span = timeSec - heatedSec
    const rest = rotor.contactJoule + rotor.frictionJoule
    const boardJoule = (rotor.amp2Sec - heatedAmp2) * bridge.pathOhm
    boardCelsius += (boardJoule - ((boardCelsius - ambient) / BOARD_K_PER_W) * span) / BOARD_J_PER_K
    if (on.heating) {
      const copper = rotor.copperJoule - heatedCopper
      advanceHeat(heat, thermal, ambient, copper, rest - heatedRest, span)
      followTemperature()
    }
    heatedSec = timeSec
    heatedCopper = rotor.copperJoule
    heatedRest = rest
    heatedAmp2 = rotor.amp2Sec
  }

  /** Sets `circuit` for the time from now; returns until when it holds. */
  function closeCircuit(): number {
    const hum = supply.humVolt === 0 ? 0 : supply.humVolt * Math.sin(TURN * supply.humHz * timeSec)
    circuit.limitAmp = Number.POSITIVE_INFINITY
    circuit.kind = 'closed'
    circuit.volt = 0
    circuit.ohm = bridge.pathOhm
    if (mode === 'brake') return Number.POSITIVE_INFINITY
    if (mode === 'coast') {
      const held = busVolt + 2 * bridge.diodeVolt
      circuit.ohm = 0
      if (rotor.currentAmp !== 0) {
        circuit.kind = 'freewheel'
        circuit.volt = rotor.currentAmp > 0 ? -held : held
      } else if (Math.abs(law.fluxFactor * law.table[0]! * rotor.speed) > held) {
        circuit.kind = 'freewheel'
        circuit.volt = rotor.speed > 0 ? held : -held
      } else {
        circuit.kind = 'open'
      }
      return Number.POSITIVE_INFINITY
    }
    if (linear) {
      circuit.volt = setVolt + hum
      circuit.ohm += supply.resistanceOhm
      circuit.limitAmp = supply.limitAmp
      return Number.POSITIVE_INFINITY
    }
    findPwmPhase(timeSec, pwmPeriodSec, Math.abs(setVolt) / supply.openVolt, phase)
    if (phase.on) circuit.volt = setVolt > 0 ? busVolt : -busVolt
    return phase.untilSec
  }

  function feedBus(ampSecBefore: number, span: number): void {
    if (linear) return
    const motorAmp = (rotor.ampSec - ampSecBefore) / span
    const hum = supply.humVolt === 0 ? 0 : supply.humVolt * Math.sin(TURN * supply.humHz * timeSec)
    // Power conserved in the switches: what the motor path takes at ±busVolt comes from the bus.
    const direction = circuit.volt > 0 ? 1 : circuit.volt < 0 ? -1 : 0
    busVolt = advanceBus(supply, busVolt, supply.openVolt + hum, direction * motorAmp, span)
  }

  function passIndex(angleBefore: number, timeBefore: number): void {
    const low = Math.floor(Math.min(angleBefore, rotor.angle) / TURN)
    const high = Math.floor(Math.max(angleBefore, rotor.angle) / TURN)
    if (low === high || indexCounts === null) return
    const share = (high * TURN - angleBefore) / (rotor.angle - angleBefore)
    pulses.push({
      timeSec: timeBefore + share * (timeSec - timeBefore),
      count: high * indexCounts - measurands.zeroCounts(indexCounts),
    })
  }

  function passedGuard(guards: PlantGuards): PlantStop | null {
    if (mode === 'coast') return null
    const amp = rotor.currentAmp
    if (Math.abs(amp) > guards.currentAmp) return { timeSec, cause: 'over-current', value: amp }
    if (Math.abs(rotor.speed) > guards.speedRadPerSec) {
      return { timeSec, cause: 'over-speed', value: rotor.speed }
    }
    if (busVolt > guards.busHighVolt) return { timeSec, cause: 'bus-high', value: busVolt }
    return null
  }

  function shaftTorque(): number {
    const dry = law.coulombNm
    if (rotor.speed === 0) {
      const torque = rotor.innerTorqueNm
      return Math.sign(torque) * Math.max(0, Math.abs(torque) - dry)
    }
    const sign = Math.sign(rotor.speed)
    const viscous = friction.viscousNmsPerRad + friction.windageNms2PerRad2 * Math.abs(rotor.speed)
    return (
      rotor.innerTorqueNm -
      sign * dry * (1 + sign * law.directionShare) -
      viscous * rotor.speed -
      motor.inertiaKgM2 * rotor.acceleration
    )
  }

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
          return rotor.terminalVolt
        case 'current':
          return rotor.currentAmp
        case 'speed':
          return rotor.speed
        case 'position':
          return rotor.angle - zeroAngle
        case 'temperature':
          return heat.windingCelsius
        case 'ambient':
          return ambient
        case 'torque':
          return shaftTorque()
        default:
          return quantity satisfies never
      }
    },
    integral: quantity =>
      quantity === 'voltage' ? rotor.voltSec : quantity === 'current' ? rotor.ampSec : rotor.angle,
  }

  followTemperature()
  return {
    get timeSec() {
      return timeSec
    },
    setBridge(next, volt) {
      mode = next
      setVolt = next === 'drive' ? Math.min(supply.openVolt, Math.max(-supply.openVolt, volt)) : 0
      edges.push({ timeSec, mode, setVolt })
    },
    setShaft(shaft: Shaft) {
      rotor.acceleration = 0
      law.outerDryNm = fixture.coulombNm
      law.outerStaticNm = fixture.coulombNm
      law.hold = shaft.hold === 'slipping' ? 'free' : shaft.hold
      if (shaft.hold === 'locked' || shaft.hold === 'slipping') {
        rotor.speed = 0
        rotor.angle = Math.floor(rotor.angle / TURN) * TURN + shaft.angleRad
        rotor.segment = Number.NaN
      }
      if (shaft.hold === 'slipping') {
        law.outerDryNm += SLIP_SHARE * shaft.slipNm
        law.outerStaticNm += shaft.slipNm
      }
      if (shaft.hold === 'driven') rotor.speed = shaft.speedRadPerSec
    },
    setLoad(inertiaKgM2, torqueNm) {
      addedInertia = inertiaKgM2
      law.inertiaKgM2 = motor.inertiaKgM2 + fixture.inertiaKgM2 + addedInertia
      law.externalNm = torqueNm
    },
    setAmbient(celsius) {
      ambient = celsius
    },
    setTemperatures(windingCelsius, housingCelsius) {
      heat.windingCelsius = windingCelsius
      heat.housingCelsius = housingCelsius
      followTemperature()
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
        const holds = closeCircuit()
        circuit.tripAmp = mode === 'coast' ? Number.POSITIVE_INFINITY : guards.currentAmp
        let until = Math.min(toSec, holds, timeSec + longestSpan)
        if (sampler !== null) until = Math.min(until, sampler.nextMarkSec)
        if (burst !== null) until = Math.min(until, burst.nextMarkSec)
        const span = until - timeSec
        const timeBefore = timeSec
        const angleBefore = rotor.angle
        const ampSecBefore = rotor.ampSec
        if (span > 0) {
          const steps = Math.ceil(span / longestStep - 1e-6)
          const step = span / steps
          const done = advanceRotor(rotor, law, circuit, steps, step)
          timeSec = done === steps ? until : timeSec + done * step
          feedBus(ampSecBefore, timeSec - timeBefore)
        }
        passIndex(angleBefore, timeBefore)
        if (timeSec - heatedSec > HEAT_SPAN_SEC) warm()
        if (sampler !== null && timeSec >= sampler.nextMarkSec) sampler.passMark()
        if (burst !== null && timeSec >= burst.nextMarkSec) burst.passMark()
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
      busVolt,
      ...heat,
      boardCelsius,
      shaftTorqueNm: shaftTorque(),
      bridge: mode,
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
