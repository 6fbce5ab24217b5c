import { describe, expect, test } from 'vitest'
import { practiceRun } from '../../src/practice-rig/practice-run.ts'
import { commandBench } from '../support/command-runner.ts'
import { importRun } from '../support/import-run.ts'
import { practiceMotor } from '../support/practice.ts'

const bench = commandBench()
const motor = practiceMotor('hazelnut-24')

describe('rotorfit recognise', () => {
  test('says what the runs of a motor show, and proposes a nameplate', async () => {
    await importRun(bench, practiceRun(motor, 'locked-rotor', 1, { benchSeed: 2 }), 'unknown')
    await importRun(bench, practiceRun(motor, 'free-run', 2, { benchSeed: 2 }), 'unknown')
    const { code, out } = await bench.run('recognise', '--motor', 'unknown', '--json')
    expect(code).toBe(0)
    const document = JSON.parse(out)
    expect(document).toMatchObject({ schema: 'recognise/1', motor: 'unknown', runs: [1, 2] })
    const text = await bench.run('recognise', '--motor', 'unknown', '--rated-voltage', '24')
    expect(text.out).toContain('cannot say')
    expect(text.out).toContain('proposed nameplate')
    expect(text.out).toContain('as stated')
  }, 30_000)

  test.each([
    [['recognise', '--motor', 'nobody'], 'nobody'],
    [['recognise', '--motor', 'unknown', '--runs', '9'], 'run 9 is none of'],
    [['recognise', '--motor', 'unknown', '--rated-voltage', '-3'], 'needs a number from'],
  ])('%j is refused', async (args, text) => {
    const outcome = await bench.run(...args)
    expect(outcome).toMatchObject({ code: 2, out: '' })
    expect(outcome.err).toContain(text)
  })
})
