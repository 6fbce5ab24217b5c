import { describe, expect, test } from 'vitest'
import { practiceHeatingRun } from '../../src/practice-rig/heating-run.ts'
import { practiceRun } from '../../src/practice-rig/practice-run.ts'
import { commandBench } from '../support/command-runner.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { importRun } from '../support/import-run.ts'
import { practiceMotor } from '../support/practice.ts'

const bench = commandBench()
const motor = practiceMotor('peppercorn-3')
const heatingRun = practiceHeatingRun(motor, 21)

describe('rotorfit heat', () => {
  test('takes a heating run of the store, and coast-downs cold and warm', async () => {
    expect(await importRun(bench, heatingRun, 'toy')).toBe(1)
    for (const [seed, startCelsius] of [
      [2, 23],
      [3, 63],
    ] as const) {
      await importRun(
        bench,
        practiceRun(motor, 'coast-down', seed, { startCelsius, benchSeed: 1 }),
        'toy',
      )
    }
    const { code, out } = await bench.run(
      'heat',
      '1',
      '--class',
      'f',
      '--stall-voltage',
      '3',
      '--json',
    )
    expect(code).toBe(0)
    const document = JSON.parse(out)
    expect(document).toMatchObject({ schema: 'heat/1', motor: 'toy', run: 1 })
    expectRelative(document.numbers.housingToAmbient.value, 38, 0.06)
    expect(document.magnets.basis).toBe('measured')
    expectRelative(document.magnets.perKelvin, motor.magnet.coefficientPerKelvin, 0.15)
    expect(document.limits.stallTimeCold.value).toBeGreaterThan(0)
  }, 90_000)

  test('says it in words too', async () => {
    const { code, out, err } = await bench.run('heat', '1', '--ambient', '60')
    expect(code).toBe(0)
    expect(out).toContain('Thermal resistance, housing to air')
    expect(out).toContain('in air of 60 °C')
    expect(out).toContain('state what a stall is')
    expect(err).toContain('not identified yet')
  })

  test.each([
    [['heat', '2'], 'is a coast-down test; a heating run is needed'],
    [['heat', '1', '--class', 'Q'], 'must be one of Y, A, E, B, F, H, N, R'],
    [['heat', '1', '--magnets', 'wood'], 'needs one of ferrite'],
    [['heat', '1', '--stall-voltage', '3', '--stall-current', '1'], 'is enough'],
    [['heat', '1', '--speed', '3000'], 'needs the friction'],
    [['heat', '99'], '99'],
  ])('%j is refused', async (args, text) => {
    const outcome = await bench.run(...args)
    expect(outcome).toMatchObject({ code: 2, out: '' })
    expect(outcome.err).toContain(text)
  })
})
