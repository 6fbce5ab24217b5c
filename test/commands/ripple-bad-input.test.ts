import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { beforeAll, describe, expect, test } from 'vitest'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { createPlant } from '../../src/practice-rig/create-plant.ts'
import { defaultBench } from '../../src/practice-rig/default-bench.ts'
import { type PracticeStep, recordPractice } from '../../src/practice-rig/record-practice.ts'
import { commandBench } from '../support/command-runner.ts'
import { practiceMotor } from '../support/practice.ts'

const { folder, run } = commandBench()
const motor = practiceMotor('hazelnut-24')
const RATE_HZ = 20_000

/** A scope's file of current and voltage, changed on the way. */
async function imported(
  name: string,
  steps: readonly PracticeStep[],
  change: (amp: number) => number,
  everyNth = 1,
): Promise<void> {
  const plant = createPlant(motor, defaultBench(motor), 5)
  const { timeSec, columns } = recordPractice(plant, steps, RATE_HZ)
  const rows: string[] = ['time [s],voltage [V],current [A]']
  for (let i = 0; i < timeSec!.length; i += everyNth) {
    const amp = change(columns.current![i]!)
    rows.push(`${timeSec![i]!.toFixed(7)},${columns.voltage![i]},${amp.toFixed(6)}`)
  }
  const file = join(folder, `${name}.csv`)
  writeFileSync(file, `${rows.join('\n')}\n`)
  const outcome = await run('import', file, '--motor', name, '--test', 'free-run')
  expect(outcome.code, outcome.err).toBe(0)
}

const drive = (setVolt: number, durationSec: number) =>
  ({ bridge: 'drive', setVolt, durationSec }) as const
const forward = [drive(12, 0.3), drive(24, 0.5)]
const KNOWN = ['--segments', '7', '--resistance', '5.5']

beforeAll(async () => {
  const normal = seededNormal(seededUniform(3))
  await imported('quiet', forward, amp => amp + 3 * normal())
  await imported('clipped', forward, amp => Math.min(amp, 0.09))
  await imported('slow', forward, amp => amp, 16)
  await imported('turned', [drive(24, 0.5), drive(-24, 0.8)], amp => amp)
})

describe('a clear word, no invented speed', () => {
  test.each([
    ['no ripple visible', '1', KNOWN, 'no ripple stands out'],
    ['a saturated channel', '2', KNOWN, 'stands at the end of its range'],
    [
      'sampled too slowly, with the rate that would do',
      '3',
      [...KNOWN, '--back-emf-constant', '0.034'],
      '5000 Hz would do',
    ],
    [
      'switching in step with the samples',
      '4',
      [...KNOWN, '--pwm-frequency', String(RATE_HZ)],
      'keep step with the bridge',
    ],
    ['no segments', '4', ['--segments', '0'], 'segments = 0; must be a whole number'],
    ['a thousand segments', '4', ['--segments', '1000'], 'segments = 1000; must be a whole number'],
  ])('%s', async (_, number, options, text) => {
    const outcome = await run('ripple', number, ...options)
    expect(outcome).toMatchObject({ code: 2, out: '' })
    expect(outcome.err).toContain(text)
  })

  test('a speed that crosses zero has a gap there, which is said', async () => {
    const { code, out } = await run('ripple', '4', ...KNOWN, '--json')
    expect(code).toBe(0)
    const { stretches, warnings } = JSON.parse(out)
    const speeds = stretches.map((s: { speedRadPerSec: number | null }) => s.speedRadPerSec)
    expect(Math.max(...speeds)).toBeGreaterThan(300)
    expect(Math.min(...speeds)).toBeLessThan(-300)
    expect(speeds.every((speed: number | null) => speed === null || Math.abs(speed) > 20)).toBe(
      true,
    )
    const crossing = warnings.find((w: { code: string }) => w.code === 'speed-crosses-zero')
    expect(crossing.text).toContain('turned round between')
    const text = await run('ripple', '4', ...KNOWN)
    expect(text.out).toContain('turned round between')
  })
})
