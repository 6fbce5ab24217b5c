import { describe, expect, test } from 'vitest'
import { createPlant } from '../../src/practice-rig/create-plant.ts'
import { defaultBench } from '../../src/practice-rig/default-bench.ts'
import { REALISTIC, withImperfections } from '../../src/practice-rig/imperfections.ts'
import { NO_GUARDS, type Plant } from '../../src/practice-rig/plant.ts'
import { practiceTruth } from '../../src/practice-rig/practice-truth.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { MOTOR_FILES, practiceMotor } from '../support/practice.ts'

const names = MOTOR_FILES.map(file => file.replace('.json', ''))

function running(name: string, bridge: 'linear' | 'pwm' = 'linear'): Plant {
  const motor = practiceMotor(name)
  const plant = createPlant(motor, defaultBench(motor, { bridge }), 1)
  plant.setBridge('drive', motor.rating.voltageVolt)
  plant.advance(0.4, NO_GUARDS)
  return plant
}

describe('energy', () => {
  test.each(
    names.flatMap(name => [
      { name, bridge: 'linear' as const },
      { name, bridge: 'pwm' as const },
    ]),
  )('$name on a $bridge bridge: input is heat, motion and field', ({ name, bridge }) => {
    const motor = practiceMotor(name)
    // Cogging stores energy with the angle; without it the balance closes at any angle.
    const switches = withImperfections(REALISTIC, { cogging: false })
    const plant = createPlant(motor, defaultBench(motor, { bridge }), 1, { switches })
    const volt = motor.rating.voltageVolt
    const end = bridge === 'pwm' ? 0.1 : 0.2
    plant.setBridge('drive', 0.8 * volt)
    plant.advance(end / 2, NO_GUARDS)
    plant.setBridge('brake', 0)
    plant.advance(end * 0.7, NO_GUARDS)
    plant.setBridge('drive', -0.6 * volt)
    plant.advance(end, NO_GUARDS)
    const { input, copper, contact, friction } = plant.energy()
    const { speedRadPerSec: w, currentAmp: i } = plant.state()
    const stored = 0.5 * motor.inertiaKgM2 * w * w + 0.5 * motor.winding.inductanceHenry * i * i
    expect(copper).toBeGreaterThan(0)
    expect(contact).toBeGreaterThan(0)
    expect(friction).toBeGreaterThan(0)
    expectRelative(copper + contact + friction + stored, input, 2e-4)
  })
})

describe('static friction', () => {
  const name = 'juniper-36'
  const voltFor = (torque: number) => {
    const motor = practiceMotor(name)
    const amp = torque / motor.magnet.backEmfConstantVsPerRad
    const ohm = motor.winding.copperOhm + motor.brush.contactOhm
    return ohm * 1.05 * amp + motor.brush.dropVolt * Math.tanh(amp / motor.brush.kneeAmp)
  }
  const plant = () => {
    const motor = practiceMotor(name)
    return createPlant(motor, defaultBench(motor), 1, {
      switches: withImperfections(REALISTIC, {
        cogging: false,
        commutationRipple: false,
        windingAngle: false,
        contactNoise: false,
        frictionBumps: false,
        frictionDirection: false,
      }),
    })
  }

  test('holds the shaft still, exactly, below break-away torque', () => {
    const stuck = plant()
    stuck.setBridge('drive', voltFor(0.95 * practiceMotor(name).friction.staticNm))
    stuck.advance(1, NO_GUARDS)
    expect(stuck.state().speedRadPerSec).toBe(0)
    expect(stuck.state().angleRad).toBe(0)
    expect(stuck.state().currentAmp).toBeGreaterThan(0)
  })

  test('lets go above it, and then needs less to go on', () => {
    const { staticNm, coulombNm } = practiceMotor(name).friction
    const moving = plant()
    moving.setBridge('drive', voltFor(1.05 * staticNm))
    moving.advance(1, NO_GUARDS)
    expect(moving.state().speedRadPerSec).toBeGreaterThan(0)
    moving.setBridge('drive', voltFor((staticNm + 2 * coulombNm) / 3) + 1)
    moving.advance(2, NO_GUARDS)
    expect(moving.state().speedRadPerSec).toBeGreaterThan(0)
  })

  test('brings a coasting shaft to rest for good', () => {
    const coasting = running('peppercorn-3')
    coasting.setBridge('coast', 0)
    coasting.advance(3, NO_GUARDS)
    const angle = coasting.state().angleRad
    expect(coasting.state().speedRadPerSec).toBe(0)
    coasting.advance(4, NO_GUARDS)
    expect(coasting.state().angleRad).toBe(angle)
  })
})

describe('bridge', () => {
  test('coast: the freewheel pulse runs into the bus and ends at zero current, then back-EMF shows', () => {
    const motor = practiceMotor('hazelnut-24')
    const bench = defaultBench(motor)
    const plant = createPlant(motor, bench, 1)
    plant.setBridge('drive', 24)
    plant.advance(0.005, NO_GUARDS)
    const before = plant.state()
    expect(before.currentAmp).toBeGreaterThan(2)
    plant.setBridge('coast', 0)
    plant.advance(0.00501, NO_GUARDS)
    expectRelative(plant.state().terminalVolt, -(1.2 * 24 + 2 * bench.bridge.diodeVolt), 1e-9)
    let last = plant.state().currentAmp
    while (plant.state().currentAmp > 0) {
      plant.advance(plant.timeSec + 1e-5, NO_GUARDS)
      expect(plant.state().currentAmp).toBeLessThan(last)
      last = plant.state().currentAmp
    }
    expect(plant.state().currentAmp).toBe(0)
    plant.advance(plant.timeSec + 1e-4, NO_GUARDS)
    const { terminalVolt, speedRadPerSec, currentAmp } = plant.state()
    expect(currentAmp).toBe(0)
    expectRelative(terminalVolt, motor.magnet.backEmfConstantVsPerRad * speedRadPerSec, 0.04)
  })

  test('brake: current flows against the motion and the terminals show almost nothing', () => {
    const plant = running('fennimore-24')
    const speed = plant.state().speedRadPerSec
    plant.setBridge('brake', 0)
    plant.advance(0.404, NO_GUARDS)
    expect(plant.state().currentAmp).toBeLessThan(-5)
    expect(plant.state().speedRadPerSec).toBeLessThan(speed)
    expect(Math.abs(plant.state().terminalVolt)).toBeLessThan(1)
  })

  test('a brake on reverse drive adds both voltages: nearly twice the stall current', () => {
    const motor = practiceMotor('fennimore-24')
    const bench = defaultBench(motor)
    const plant = createPlant(motor, { ...bench, supply: { ...bench.supply, limitAmp: 1000 } }, 1)
    plant.setBridge('drive', 24)
    plant.advance(0.4, NO_GUARDS)
    plant.setBridge('drive', -24)
    let lowest = 0
    while (plant.timeSec < 0.41) {
      plant.advance(plant.timeSec + 1e-4, NO_GUARDS)
      lowest = Math.min(lowest, plant.state().currentAmp)
    }
    const ohm = motor.winding.copperOhm + motor.brush.contactOhm
    expect(-lowest).toBeGreaterThan((1.4 * 24) / ohm)
    expect(-lowest).toBeLessThan((2 * 24) / ohm)
  })

  test('the supply folds back at its current limit', () => {
    const motor = practiceMotor('galleon-12')
    const bench = defaultBench(motor)
    const plant = createPlant(motor, { ...bench, supply: { ...bench.supply, limitAmp: 10 } }, 1)
    plant.setShaft({ hold: 'locked', angleRad: 1 })
    plant.setBridge('drive', 12)
    plant.advance(0.05, NO_GUARDS)
    expectRelative(plant.state().currentAmp, 10, 1e-9)
  })

  test('a supply that cannot sink is pumped up by a motor that brakes into it', () => {
    const motor = practiceMotor('ploughman-24')
    const bench = defaultBench(motor, { bridge: 'pwm' })
    const plant = createPlant(motor, { ...bench, supply: { ...bench.supply, sinks: false } }, 1)
    plant.setBridge('drive', 24)
    plant.advance(0.1, NO_GUARDS)
    plant.setBridge('drive', 10)
    const stop = plant.advance(0.2, { ...NO_GUARDS, busHighVolt: 40 })
    expect(stop?.cause).toBe('bus-high')
    expect(plant.timeSec).toBe(stop?.timeSec)
  })

  test('guards stop in the step in which the current passes', () => {
    const motor = practiceMotor('hazelnut-24')
    const plant = createPlant(motor, defaultBench(motor), 1)
    plant.setBridge('drive', 24)
    const stop = plant.advance(1, { ...NO_GUARDS, currentAmp: 2 })
    expect(stop?.cause).toBe('over-current')
    expect(stop!.value).toBeGreaterThan(2)
    expect(stop!.value).toBeLessThan(2.1)
    const fast = running('hazelnut-24').advance(0.5, { ...NO_GUARDS, speedRadPerSec: 600 })
    expect(fast?.cause).toBe('over-speed')
  })
})

describe('shaft', () => {
  test('a clamp slips above its torque only', () => {
    const motor = practiceMotor('marrow-36')
    for (const [slipNm, slips] of [
      [0.5, true],
      [10, false],
    ] as const) {
      const plant = createPlant(motor, defaultBench(motor), 1)
      plant.setShaft({ hold: 'slipping', angleRad: 0.5, slipNm })
      plant.setBridge('drive', 12)
      plant.advance(0.1, NO_GUARDS)
      expect(Math.abs(plant.state().speedRadPerSec) > 0).toBe(slips)
    }
  })

  test('resistance of a locked rotor depends on the marked angle, its mean is the stated one', () => {
    const motor = practiceMotor('bellows-6')
    const switches = withImperfections(REALISTIC, { contactNoise: false, heating: false })
    const ohms = Array.from({ length: 180 }, (_, n) => {
      const plant = createPlant(motor, defaultBench(motor, { ambientCelsius: 20 }), 1, { switches })
      plant.setShaft({ hold: 'locked', angleRad: (n / 180) * 2 * Math.PI })
      plant.setBridge('drive', 5)
      plant.advance(0.005, NO_GUARDS)
      const { terminalVolt, currentAmp } = plant.state()
      const drop = motor.brush.dropVolt * Math.tanh(currentAmp / motor.brush.kneeAmp)
      return (terminalVolt - drop) / currentAmp
    })
    expect(Math.max(...ohms) / Math.min(...ohms)).toBeGreaterThan(1.05)
    const mean = ohms.reduce((sum, ohm) => sum + ohm, 0) / ohms.length
    expectRelative(mean, practiceTruth(motor).resistance.value, 2e-3)
  })

  test('a stalled winding warms by its own loss at first: i² R t / C', () => {
    const motor = practiceMotor('dormouse-12')
    const plant = createPlant(motor, defaultBench(motor), 1)
    plant.setShaft({ hold: 'locked', angleRad: 0 })
    plant.setBridge('drive', 8)
    plant.advance(0.2, NO_GUARDS)
    const { copper } = plant.energy()
    expectRelative(plant.state().windingCelsius - 23, copper / motor.thermal.windingJPerK, 0.01)
    expect(plant.state().windingCelsius).toBeGreaterThan(23.7)
  })

  test('open terminals of a turned motor ripple lcm(N, 2p) times a turn', () => {
    for (const [name, ripples] of [
      ['dormouse-12', 18],
      ['juniper-36', 12],
      ['galleon-12', 20],
    ] as const) {
      const motor = practiceMotor(name)
      const even = {
        ...motor,
        winding: { ...motor.winding, coilUnevenness: 0, segmentUnevenness: 0 },
      }
      const plant = createPlant(even, defaultBench(even), 1)
      const speed = 2 * Math.PI // one turn a second
      plant.setShaft({ hold: 'driven', speedRadPerSec: speed })
      const volts: number[] = []
      for (let n = 1; n <= 2000; n++) {
        plant.advance(n / 2000, NO_GUARDS)
        volts.push(plant.state().terminalVolt)
      }
      const mean = volts.reduce((sum, v) => sum + v, 0) / volts.length
      expectRelative(mean, practiceTruth(motor).backEmfConstant.value * speed, 1e-3)
      const amplitude = (n: number) => {
        let real = 0
        let imaginary = 0
        volts.forEach((v, k) => {
          real += (v - mean) * Math.cos((2 * Math.PI * n * k) / 2000)
          imaginary += (v - mean) * Math.sin((2 * Math.PI * n * k) / 2000)
        })
        return Math.hypot(real, imaginary)
      }
      const lines = Array.from({ length: 60 }, (_, n) => amplitude(n + 1))
      expect(lines.indexOf(Math.max(...lines)) + 1).toBe(ripples)
    }
  })

  test('index pulses come once a turn', () => {
    const motor = practiceMotor('hazelnut-24')
    const plant = createPlant(motor, defaultBench(motor, { position: true }), 1)
    plant.setShaft({ hold: 'driven', speedRadPerSec: 20 * Math.PI })
    plant.advance(1.05, NO_GUARDS)
    const pulses = plant.takeIndexPulses()
    expect(pulses.map(pulse => pulse.count)).toEqual(
      [1, 2, 3, 4, 5, 6, 7, 8, 9, 10].map(n => n * 4000),
    )
    pulses.forEach((pulse, n) => {
      expectRelative(pulse.timeSec, (n + 1) / 10, 1e-6)
    })
    expect(plant.takeIndexPulses()).toEqual([])
  })
})

describe('seed', () => {
  test('the same seed gives the same counts, another seed others', () => {
    const record = (seed: number) => {
      const motor = practiceMotor('brindle-12')
      const plant = createPlant(motor, defaultBench(motor, { bridge: 'pwm' }), seed)
      const sampler = plant.setSamplePeriod(1e-4)
      const counts = new Int32Array(3 * 200)
      plant.setBridge('drive', 9)
      for (let n = 0; n < 200; n++) {
        plant.advance((n + 1) * 1e-4, NO_GUARDS)
        sampler.read(counts, 3 * n)
      }
      return counts
    }
    expect(record(7)).toEqual(record(7))
    expect(record(8)).not.toEqual(record(7))
  })
})
