import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { commandBench } from '../support/command-runner.ts'
import { motorText } from '../support/practice.ts'

const bench = commandBench()

/** A toy with hardly any housing: warm and cold again within seconds. */
const THERMAL = {
  windingJPerK: 0.3,
  housingJPerK: 0.9,
  windingToHousingKPerW: 5,
  housingToAmbientKPerW: 5,
}

test('a heating test is logged on a live rig, and tells the thermal numbers of its motor', {
  timeout: 120_000,
}, async () => {
  const motorFile = join(bench.folder, 'quick.json')
  const motor = { ...JSON.parse(motorText('peppercorn-3.json')), thermal: THERMAL }
  writeFileSync(motorFile, JSON.stringify(motor))
  const logged = await bench.run(
    ...['log', '--port', 'practice', '--motor-file', motorFile, '--motor', 'quick'],
    ...['--test', 'heating', '--voltage', '2.4', '--ambient', '23', '--hottest', '130'],
    ...['--duration', '45', '--json'],
  )
  expect(logged.err).toContain('until its hottest coil is at 130 °C at most')
  expect(logged).toMatchObject({ code: 0 })
  const { run, ending } = JSON.parse(logged.out)
  expect(ending).toBe('complete')
  const heat = await bench.run('heat', String(run), '--json')
  expect(heat.code).toBe(0)
  const { numbers, highestWindingCelsius } = JSON.parse(heat.out)
  expect(highestWindingCelsius).toBeLessThan(23 + (130 - 23) / 2)
  const truth = {
    windingToHousing: THERMAL.windingToHousingKPerW,
    housingToAmbient: THERMAL.housingToAmbientKPerW,
    windingTimeConstant: THERMAL.windingToHousingKPerW * THERMAL.windingJPerK,
    housingTimeConstant:
      THERMAL.housingToAmbientKPerW * (THERMAL.windingJPerK + THERMAL.housingJPerK),
  }
  for (const [name, value] of Object.entries(truth)) {
    const { status, lower95, upper95, reason } = numbers[name]
    expect(status, `${name}: ${reason}`).toBe('determined')
    expect(value, name).toBeGreaterThan(lower95)
    expect(value, name).toBeLessThan(upper95)
  }
})

test.each([
  [['--test', 'heating', '--voltage', '2'], 'needs the temperature of the air'],
  [['--test', 'load', '--voltage', '2', '--hottest', '100'], 'is for a heating test'],
])('log %j is refused', async (args, text) => {
  const outcome = await bench.run('log', '--port', 'practice', '--motor', 'quick', ...args)
  expect(outcome.code).toBe(2)
  expect(outcome.err).toContain(text)
})
