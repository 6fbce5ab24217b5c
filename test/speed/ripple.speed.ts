import { fft } from 'fourier-transform'
import { createPlant } from '../../src/practice-rig/create-plant.ts'
import { defaultBench } from '../../src/practice-rig/default-bench.ts'
import { recordPractice } from '../../src/practice-rig/record-practice.ts'
import { type TestRun, UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import { UNKNOWN_MOTOR } from '../../src/ripple/ripple-settings.ts'
import { trackRipple } from '../../src/ripple/track-ripple.ts'
import { readSignals } from '../../src/signals/run-signals.ts'
import { practiceMotor } from '../support/practice.ts'
import { type SpeedRow, spentOn } from './section.ts'

const RATE_HZ = 100_000
const RECORD_SEC = 10
const FRAME = 4096
/** The target: a ten-second record in a second of one core. */
const GOAL_SEC = 1

/** Ten seconds of current and voltage at 100 kS/s: steps, coasts, a reversal. */
function record(seed: number): TestRun {
  const motor = practiceMotor('fennimore-24')
  const plant = createPlant(motor, defaultBench(motor), seed)
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
  const recording = recordPractice(plant, steps, RATE_HZ)
  const { speed: _, ...columns } = recording.columns
  return {
    id: 1,
    kind: 'mixed',
    recording: { ...recording, columns },
    conditions: UNKNOWN_CONDITIONS,
  }
}

/** The shaft followed through the record, against plain Fourier transforms of the same samples. */
export async function measure(seed: number): Promise<SpeedRow[]> {
  const run = record(seed)
  const settings = { ...UNKNOWN_MOTOR, ripplesPerTurn: 26, resistanceOhm: 1.7, brushDropVolt: 1.1 }
  const track = () => {
    const tracked = trackRipple(readSignals(run), settings)
    if (!tracked.ok) throw new Error(tracked.error.text)
  }
  const current = run.recording.columns.current!
  const transforms = () => {
    for (let at = 0; at + FRAME <= current.length; at += FRAME / 4) {
      fft(current.subarray(at, at + FRAME))
    }
  }
  // The first pass compiles; the least of the others is what the work takes.
  track()
  transforms()
  const tracked = await least(track)
  const transformed = await least(transforms)
  return [
    {
      what: `${RECORD_SEC} s at ${RATE_HZ / 1000} kS/s followed`,
      value: tracked,
      unit: 's',
      against: `${GOAL_SEC} s`,
      ratio: tracked / GOAL_SEC,
      goal: { most: 1 },
    },
    {
      what: 'the same',
      value: tracked,
      unit: 's',
      against: `plain transforms of ${FRAME} samples, three quarters overlapping`,
      ratio: tracked / transformed,
    },
  ]
}

async function least(work: () => void): Promise<number> {
  let best = Number.POSITIVE_INFINITY
  for (let pass = 0; pass < 3; pass++) best = Math.min(best, (await spentOn(work)).busiestSec)
  return best
}
