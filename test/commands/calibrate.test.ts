import { describe, expect, test } from 'vitest'
import { commandBench } from '../support/command-runner.ts'

const { run } = commandBench()
const common = [
  '--port',
  'practice',
  '--channel',
  'motor current',
  '--instrument',
  'shunt 7',
  '--author',
  'T',
  '--json',
]

describe('calibrate', () => {
  test('pairs measured before become gain and zero, and a run remembers them', async () => {
    const { code, out } = await run(
      'calibrate',
      ...common,
      '--pair',
      '0=0.01',
      '--pair',
      '10=10.21',
      '--reading-uncertainty',
      '0.001',
    )
    expect(code).toBe(0)
    const { calibration } = JSON.parse(out)
    expect(calibration.gain).toBeCloseTo(1 / 1.02, 9)
    expect(calibration.zero).toBeCloseTo(0.01, 9)
    expect(calibration.points).toEqual([
      { reference: 0, reading: 0.01 },
      { reference: 10, reading: 10.21 },
    ])
    await run('log', '--port', 'practice', '--motor', 'm', '--test', 'zero', '--duration', '0.5')
    const runs = JSON.parse((await run('runs', '--motor', 'm', '--json')).out).runs
    expect(runs[0].calibrationIds).toEqual([calibration.id])
  })

  test.each([
    [['--pair', '1=1'], 'needs two or more'],
    [['--pair', 'x=1'], 'needs REFERENCE=READING'],
    [[], 'run it at a terminal, or give --pair'],
  ])('%j is refused', async (args, message) => {
    const outcome = await run('calibrate', ...common, ...args)
    expect(outcome).toMatchObject({ code: 2, out: '' })
    expect(outcome.err).toContain(message)
  })

  test('a channel that is not there is refused by the ones that are', async () => {
    const outcome = await run(
      'calibrate',
      ...common.with(3, 'oil pressure'),
      '--pair',
      '0=0',
      '--pair',
      '1=1',
    )
    expect(outcome.err).toContain(
      "the rig has no channel 'oil pressure'; it has 'terminal voltage'",
    )
  })
})
