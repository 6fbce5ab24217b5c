import { createPlant } from '../../src/practice-rig/create-plant.ts'
import { defaultBench } from '../../src/practice-rig/default-bench.ts'
import { REALISTIC } from '../../src/practice-rig/imperfections.ts'
import { joinRecordings } from '../../src/practice-rig/join-recordings.ts'
import { type PracticeStep, recordPractice } from '../../src/practice-rig/record-practice.ts'
import type { TestPlan } from '../../src/procedure/test-plan.ts'
import { drivenUnder } from '../../src/procedure/thermostat.ts'
import type { Trip } from '../../src/procedure/trip.ts'
import { newWatch, watchRules, watchSamples } from '../../src/procedure/watch.ts'
import type { PracticeMotor } from '../../src/records/practice-motor.ts'
import type { TestRun } from '../../src/records/test-run.ts'

export interface PlayedHeating {
  readonly run: TestRun
  readonly trip: Trip | null
  /** True mean temperature of the winding at its highest. */
  readonly highestCelsius: number
  /** Longest time for which the bridge drove at a stretch. */
  readonly longestDriveSec: number
}

export interface HeatingPlay {
  /** The thermostat has failed: every step heats for all of its time. */
  readonly deaf: boolean
}

/** Plays a heating plan on a practice motor's bench in simulated time, the watch on every sample. */
export function playHeating(
  motor: PracticeMotor,
  plan: TestPlan,
  seed: number,
  play: Partial<HeatingPlay> = {},
): PlayedHeating {
  const bench = defaultBench(motor)
  const plant = createPlant(motor, bench, seed, { switches: REALISTIC, benchSeed: seed })
  const celsius = bench.ambientCelsius
  plant.setTemperatures(celsius, celsius)
  plant.setShaft({ hold: 'locked', angleRad: 0.3 })
  const rules = watchRules(plan)
  const watch = newWatch()
  const parts: Parameters<typeof joinRecordings>[0][number][] = []
  let trip: Trip | null = null
  let highestCelsius = celsius
  let longestDriveSec = 0
  for (const step of plan.steps) {
    const driven = play.deaf ? step : drivenUnder(step, watch.thermometer)
    const left = step.durationSec - driven.durationSec
    const steps: PracticeStep[] = [{ bridge: step.bridge, ...driven }]
    if (left > 1e-9) steps.push({ bridge: 'coast', setVolt: 0, durationSec: left })
    if (step.bridge === 'drive') longestDriveSec = Math.max(longestDriveSec, driven.durationSec)
    const startSec = plant.timeSec
    const recording = recordPractice(plant, steps, plan.rateHz)
    parts.push({ startSec, recording })
    highestCelsius = Math.max(highestCelsius, plant.state().windingCelsius)
    const { columns, bridge, sampleCount } = recording
    trip = watchSamples(
      watch,
      {
        count: sampleCount,
        timeSec: recording.timeSec!.map(sec => startSec + sec),
        bridge,
        voltage: columns.voltage ?? null,
        current: columns.current ?? null,
        speed: columns.speed ?? null,
        position: columns.position ?? null,
        temperature: null,
      },
      rules,
    )
    if (trip) break
  }
  const run: TestRun = {
    id: 1,
    kind: 'heating',
    recording: joinRecordings(parts),
    conditions: plan.conditions,
  }
  return { run, trip, highestCelsius, longestDriveSec }
}
