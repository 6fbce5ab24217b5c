import { createPlant } from '../../src/practice-rig/create-plant.ts'
import { defaultBench } from '../../src/practice-rig/default-bench.ts'
import { recordPractice } from '../../src/practice-rig/record-practice.ts'
import { UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import { UNKNOWN_MOTOR } from '../../src/ripple/ripple-settings.ts'
import { trackRipple } from '../../src/ripple/track-ripple.ts'
import { readSignals } from '../../src/signals/run-signals.ts'
import { practiceMotor } from '../support/practice.ts'

/**
 * Ten seconds of current and voltage at 100 kS/s (steps, coasts, a reversal): time to follow the shaft through them.
 *   npx tsx test/speed/ripple-track.ts
 * Target: under one second on an otherwise idle machine.
 */
export function ripplesTrackedSec(): number {
  const motor = practiceMotor('fennimore-24')
  const plant = createPlant(motor, defaultBench(motor), 1)
  const drive = (setVolt: number, durationSec: number) =>
    ({ bridge: 'drive', setVolt, durationSec }) as const
  const coast = (durationSec: number) => ({ bridge: 'coast', setVolt: 0, durationSec }) as const
  const steps = [
    coast(0.2),
    drive(12, 1.5),
    drive(24, 2.5),
    drive(17, 1.3),
    coast(1),
    drive(-14, 1.5),
    coast(2),
  ]
  const recording = recordPractice(plant, steps, 100_000)
  const { speed: _, ...columns } = recording.columns
  const run = {
    id: 1,
    kind: 'mixed' as const,
    recording: { ...recording, columns },
    conditions: UNKNOWN_CONDITIONS,
  }
  const settings = { ...UNKNOWN_MOTOR, ripplesPerTurn: 26, resistanceOhm: 1.7, brushDropVolt: 1.1 }
  const times = [1, 2, 3].map(() => {
    const before = process.cpuUsage()
    const tracked = trackRipple(readSignals(run), settings)
    if (!tracked.ok) throw new Error(tracked.error.text)
    const { user, system } = process.cpuUsage(before)
    return (user + system) / 1e6
  })
  return Math.min(...times)
}

if (import.meta.url === `file://${process.argv[1]}`) {
  process.stdout.write(
    `10 s at 100 kS/s tracked in ${ripplesTrackedSec().toFixed(2)} s of processor time\n`,
  )
}
