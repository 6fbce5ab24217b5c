import { beforeAll, describe, expect, test } from 'vitest'
import { projectFile } from '../../server/files/project-file.ts'
import { practiceTruth } from '../../src/practice-rig/practice-truth.ts'
import { commandBench } from '../support/command-runner.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { practiceMotor } from '../support/practice.ts'

/** The examples of the README, as they stand there. */
const { run } = commandBench()

beforeAll(async () => {
  for (const [name, test] of [
    ['locked-rotor', 'locked-rotor'],
    ['scope', 'free-run'],
  ] as const) {
    const file = projectFile(`datasets/examples/hazelnut-24-${name}.csv`)
    await run('import', file, '--motor', 'fan, no label', '--test', test)
  }
})

describe('one look at the shaft settles the ripples a turn', () => {
  test.each([
    ['--segments 7'],
    ['--tachometer 6370 --from 0.45 --to 0.58'],
    ['--marks 0.4543,0.4637,0.4732,0.4826'],
    ['--hand-turn 14'],
  ])('%s: fourteen, and k within 0.5 %% from the ripple alone', async options => {
    const { code, out } = await run('ripple', '2', ...options.split(' '), '--json')
    expect(code).toBe(0)
    const { ripplesPerTurn, backEmfConstant } = JSON.parse(out)
    expect(ripplesPerTurn).toBe(14)
    expect(backEmfConstant.from).toBe('open-terminals')
    const truth = practiceTruth(practiceMotor('hazelnut-24')).backEmfConstant.value
    expectRelative(backEmfConstant.value, truth, 5e-3)
  })

  test('counted segments tell the torque ripple of an ideal winding', async () => {
    // 7 coils: (1 − cos h) h/sin h with h = π/14, by hand; the formula is that of test/ripple/commutation.test.ts.
    const { out } = await run('ripple', '2', '--segments', '7', '--json')
    expectRelative(JSON.parse(out).torqueRippleShare, 0.025283, 1e-3)
    const text = await run('ripple', '2', '--segments', '7')
    expect(text.out).toContain('2.5\u00a0% of the mean')
    const unknown = await run('ripple', '2', '--hand-turn', '14', '--json')
    expect(JSON.parse(unknown.out).torqueRippleShare).toBeNull()
  })

  test('nothing known: the true count is among the candidates, with the k that it means', async () => {
    const { out } = await run('ripple', '2', '--json')
    const { candidates, backEmfConstant, whatDecides } = JSON.parse(out)
    expect(backEmfConstant).toBeNull()
    const right = candidates.find((c: { ripplesPerTurn: number }) => c.ripplesPerTurn === 14)
    expectRelative(right.backEmfConstantVsPerRad, 0.0343, 0.03)
    // Half the ripples, half the constant.
    const other = candidates.find((c: { ripplesPerTurn: number }) => c.ripplesPerTurn === 28)
    expectRelative(other.backEmfConstantVsPerRad, 2 * right.backEmfConstantVsPerRad, 1e-9)
    expect(whatDecides.length).toBeGreaterThan(3)
  })

  test.each([
    ['--tachometer 6230 --from 0.45 --to 0.58', 'is no whole number'],
    ['--marks 0.46', 'needs two passes of the mark'],
    ['--marks 0.46,x', 'needs times in seconds'],
    ['--hand-turn 1.5', 'must be a whole number'],
    ['--hand-turn 14 --tachometer 6370', 'one of --tachometer, --marks and --hand-turn is enough'],
  ])('%s is refused', async (options, text) => {
    const { code, out, err } = await run('ripple', '2', ...options.split(' '))
    expect({ code, out }).toEqual({ code: 2, out: '' })
    expect(err).toContain(text)
  })
})
