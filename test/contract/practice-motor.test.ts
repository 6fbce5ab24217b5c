import { describe, expect, test } from 'vitest'
import { readPracticeMotor } from '../../src/contract/practice-motor.ts'
import { InputFault } from '../../src/base/faults.ts'
import { stallAmp } from '../../src/practice-rig/default-bench.ts'
import { MOTOR_FILES, motorText } from '../support/practice.ts'

describe('the motors that come with the project', () => {
  const motors = MOTOR_FILES.map(file => readPracticeMotor(motorText(file), file))

  test('are at least ten, of 1 W to 300 W and 3 V to 48 V, odd and even, one and two pole pairs', () => {
    expect(motors.length).toBeGreaterThanOrEqual(10)
    const of = (pick: (m: (typeof motors)[number]) => number) => motors.map(pick)
    expect(Math.min(...of(m => m.rating.powerWatt))).toBe(1)
    expect(Math.max(...of(m => m.rating.powerWatt))).toBe(300)
    expect(Math.min(...of(m => m.rating.voltageVolt))).toBe(3)
    expect(Math.max(...of(m => m.rating.voltageVolt))).toBe(48)
    expect(new Set(of(m => m.winding.segments % 2)).size).toBe(2)
    expect(new Set(of(m => m.winding.polePairs)).size).toBe(2)
    expect(new Set(motors.map(m => m.brush.kind)).size).toBe(3)
    expect(new Set(motors.map(m => m.name)).size).toBe(motors.length)
  })

  test.each(motors)('$name reaches its rated power at rated voltage and current', motor => {
    const { rating, magnet, brush, friction } = motor
    const ohm = motor.winding.copperOhm + brush.contactOhm
    const k = magnet.backEmfConstantVsPerRad
    const speed = (rating.voltageVolt - brush.dropVolt - ohm * rating.currentAmp) / k
    const drag =
      friction.coulombNm +
      friction.viscousNmsPerRad * speed +
      friction.windageNms2PerRad2 * speed ** 2
    const watt = (k * rating.currentAmp - drag) * speed
    expect(watt / rating.powerWatt).toBeGreaterThan(0.85)
    expect(watt / rating.powerWatt).toBeLessThan(1.25)
    expect(rating.currentAmp).toBeLessThan(0.6 * stallAmp(motor))
    // Continuous rating: the winding stays below 130 degC in air of 20 degC (class B, IEC 60085).
    const { windingToHousingKPerW, housingToAmbientKPerW } = motor.thermal
    const copper = ohm * rating.currentAmp ** 2
    const rise =
      copper * windingToHousingKPerW +
      (copper + brush.dropVolt * rating.currentAmp) * housingToAmbientKPerW
    expect(rise).toBeLessThan(115)
    expect(rise).toBeGreaterThan(40)
  })
})

describe('a faulty motor file is refused in one line that says what would be right', () => {
  // biome-ignore lint/suspicious/noExplicitAny: the edits break the type on purpose
  type Edit = (motor: any) => void
  const cases: readonly { name: string; edit: Edit; says: string }[] = [
    {
      name: 'half a segment',
      edit: m => (m.winding.segments = 2.5),
      says: 'm.json: winding.segments = 2.5; must be a whole number from 3 to 200',
    },
    {
      name: 'a part missing',
      edit: m => delete m.thermal,
      says: 'm.json: thermal is missing; must be an object with windingJPerK, housingJPerK, windingToHousingKPerW, housingToAmbientKPerW',
    },
    {
      name: 'a key misspelt beside the right one',
      edit: m => (m.cogging.amplitudeNM = 1),
      says: 'm.json: cogging has the unknown key "amplitudeNM"; known: periodsPerTurn, amplitudeNm',
    },
    {
      name: 'a number as text, in a list',
      edit: m => (m.friction.bumps[0].widthRad = '1'),
      says: 'm.json: friction.bumps[0].widthRad = "1"; must be a number from 0.01 to 6.2832',
    },
    {
      name: 'two faults',
      edit: m => {
        m.rating.voltageVolt = 0
        m.inertiaKgM2 = -1
      },
      says: 'm.json: rating.voltageVolt = 0; must be a number from 0.5 to 400 (and 1 more)',
    },
    {
      name: 'another format',
      edit: m => (m.schema = 'motor/2'),
      says: 'm.json: schema = "motor/2"; must be \'practice-motor/1\'',
    },
    {
      name: 'a brush that joins both terminals',
      edit: m => (m.brush.widthSegments = 1),
      says: 'm.json: brush.widthSegments = 1; must be <= segments / (2 polePairs) - 1.08 = 0.41',
    },
    {
      name: 'too few segments for the poles',
      edit: m => (m.winding.polePairs = 2),
      says: 'm.json: winding.segments = 3; must be more than 4.3 for 2 pole pairs',
    },
    {
      name: 'break-away below sliding friction',
      edit: m => (m.friction.staticNm = 1e-5),
      says: 'm.json: friction.staticNm = 0.00001; must be >= friction.coulombNm = 0.00022',
    },
    {
      name: 'friction that no rated voltage overcomes',
      edit: m => (m.friction.staticNm = 1),
      says: 'm.json: friction.staticNm + cogging.amplitudeNm = 1.00004 N m; must be below two thirds of the stall torque 0.00418 N m',
    },
    {
      name: 'bumps higher than the friction they sit on',
      edit: m => (m.friction.bumps[0].torqueNm = 0.001),
      says: 'm.json: friction.bumps add up to 0.001015 N m; must be <= friction.coulombNm = 0.00022',
    },
    {
      name: 'a speed limit below free running',
      edit: m => (m.rating.speedLimitRadPerSec = 100),
      says: 'm.json: rating.speedLimitRadPerSec = 100; must be >= voltage / back-EMF constant = 1293',
    },
    {
      name: 'hardly any inductance',
      edit: m => (m.winding.inductanceHenry = 1e-7),
      says: 'm.json: winding.inductanceHenry / resistance = 6.25e-8 s; must be from 1e-5 s to 0.1 s',
    },
  ]

  const fault = (text: string) => {
    try {
      readPracticeMotor(text, 'm.json')
    } catch (error) {
      return error
    }
    return null
  }

  test.each(cases)('$name', ({ edit, says }) => {
    const motor = JSON.parse(motorText('peppercorn-3.json'))
    edit(motor)
    const error = fault(JSON.stringify(motor))
    expect(error).toBeInstanceOf(InputFault)
    expect((error as Error).message).toBe(says)
  })

  test.each(['{', '', '[]', 'null', '"text"', '12 volts'])('not a motor at all: %j', text => {
    const error = fault(text)
    expect(error).toBeInstanceOf(InputFault)
    expect((error as Error).message).toMatch(/^m\.json: (is not JSON|the file = ).*must be/)
    expect((error as Error).message).not.toContain('\n')
  })

  test('a name cannot smuggle control characters to a terminal', () => {
    const motor = JSON.parse(motorText('peppercorn-3.json'))
    motor.name = '\u001b[31mred'
    expect((fault(JSON.stringify(motor)) as Error).message).not.toContain('\u001b')
    expect((fault('\u001b[2J{') as Error).message).not.toContain('\u001b')
  })
})
