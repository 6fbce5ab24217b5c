import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { defaultBench } from '../../src/practice-rig/default-bench.ts'
import { practiceRun } from '../../src/practice-rig/practice-run.ts'
import type { BasicTest } from '../../src/practice-rig/practice-steps.ts'
import { commandBench } from '../support/command-runner.ts'
import { practiceMotor } from '../support/practice.ts'

const { folder, run } = commandBench()
const motor = practiceMotor('hazelnut-24')
const bench = defaultBench(motor)
const channels = bench.channels.filter(channel => channel.quantity !== 'speed')

/** A test of a motor without an encoder, as a scope would have recorded it. */
async function imported(kind: BasicTest, rateHz: number, seed: number) {
  const { recording } = practiceRun(motor, kind, seed, {
    bench: { ...bench, channels },
    rateHz,
    benchSeed: 3,
    shaftAngleRad: seed,
  })
  const { voltage, current } = recording.columns
  const rows = Array.from(
    recording.timeSec!,
    (time, i) =>
      `${time},${voltage![i]},${current![i]},${['drive', 'coast', 'brake'][recording.bridge![i]!]}`,
  )
  const file = join(folder, `${kind}-${seed}.csv`)
  writeFileSync(file, `time [s],voltage [V],current [A],bridge\n${rows.join('\n')}\n`)
  const outcome = await run(
    'import',
    file,
    '--motor',
    'scope',
    '--test',
    kind,
    '--temperature',
    '23',
  )
  expect(outcome.code).toBe(0)
}

describe('a motor without a speed sensor, from scope recordings alone', () => {
  test('locked rotor, free run and coast-down come in', async () => {
    await imported('locked-rotor', 10_000, 1)
    await imported('locked-rotor', 10_000, 2)
    await imported('free-run', 20_000, 3)
    await imported('coast-down', 20_000, 4)
  })

  test('the count of segments gives speeds', async () => {
    const { code, out } = await run('ripple', '4', '--segments', '7', '--json')
    expect(code).toBe(0)
    const document = JSON.parse(out)
    expect(document).toMatchObject({ schema: 'ripple/1', ripplesPerTurn: 14, candidates: [] })
    const open = document.stretches.filter((s: { terminals: string }) => s.terminals === 'open')
    expect(open.length).toBeGreaterThan(1)
    expect(open[0].speedRadPerSec).toBeGreaterThan(300)
  })

  test('without a count there are candidates, no speed', async () => {
    const { code, out } = await run('ripple', '4', '--json')
    expect(code).toBe(0)
    const document = JSON.parse(out)
    expect(document.ripplesPerTurn).toBeNull()
    expect(
      document.stretches.every((s: { speedRadPerSec: null }) => s.speedRadPerSec === null),
    ).toBe(true)
    expect(document.candidates.map((c: { ripplesPerTurn: number }) => c.ripplesPerTurn)).toContain(
      14,
    )
    const text = await run('ripple', '4')
    expect(text.out).toContain('what would decide')
  })

  test('fit takes its speed from the ripple on request', async () => {
    const plain = await run('fit', '--motor', 'scope', '--json')
    const { code, out, err } = await run(
      'fit',
      '--motor',
      'scope',
      '--speed-from-ripple',
      '--segments',
      '7',
      '--json',
    )
    expect(err).not.toContain('internal error')
    expect(code).toBe(0)
    const { backEmfConstant, coulombTorque } = JSON.parse(out).parameters
    expect(backEmfConstant.status).toBe('determined')
    expect(Math.abs(backEmfConstant.value / 0.0343 - 1)).toBeLessThan(0.005)
    expect(Math.abs(coulombTorque.value / 2.2e-3 - 1)).toBeLessThan(0.08)
    expect(JSON.parse(out).warnings.map((w: { code: string }) => w.code)).toContain(
      'speed-from-ripple',
    )
    // Without it there is nothing that turns volts into speed.
    if (plain.code === 0) {
      expect(JSON.parse(plain.out).parameters.backEmfConstant.status).toBe('not-determined')
    }
  }, 120_000)

  test.each([
    [['--segments', '0'], 'segments = 0; must be a whole number from 2 to 200'],
    [['--segments', '1000'], 'segments = 1000; must be a whole number from 2 to 200'],
    [['--segments', '7', '--ripples-per-turn', '14'], 'give one of them'],
    [['--segments', '7', '--hand-turn', '15'], 'one of them is wrong'],
  ])('%j is refused', async (options, text) => {
    const outcome = await run('ripple', '4', ...options)
    expect(outcome).toMatchObject({ code: 2, out: '' })
    expect(outcome.err).toContain(text)
  })
})
