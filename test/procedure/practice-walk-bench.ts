import type { RigFacts } from '../../src/procedure/rig-facts.ts'
import { createPlant } from '../../src/practice-rig/create-plant.ts'
import { defaultBench, stallAmp } from '../../src/practice-rig/default-bench.ts'
import { NO_GUARDS } from '../../src/practice-rig/plant.ts'
import { recordPractice } from '../../src/practice-rig/record-practice.ts'
import type { PracticeMotor } from '../../src/records/practice-motor.ts'
import type { WalkBench } from './walk-sequence.ts'

/** A practice motor on its bench, driven without a protocol between. Nothing trips by itself. */
export function practiceWalkBench(motor: PracticeMotor, seed: number): WalkBench {
  const bench = defaultBench(motor)
  const plant = createPlant(motor, bench, seed)
  const current = bench.channels.find(channel => channel.quantity === 'current')!
  const rest = (sec: number) => {
    plant.setBridge('coast', 0)
    plant.advance(plant.timeSec + sec, NO_GUARDS)
  }
  const rig: RigFacts = {
    model: 'practice',
    serialNumber: 'P-1',
    simulated: true,
    channels: bench.channels.map(channel => channel.quantity),
    channelTexts: bench.channels.map(channel => channel.name),
    ratesHz: [1000, 5000, 10_000],
    reversible: true,
    limits: {
      driveVolt: 1.2 * motor.rating.voltageVolt,
      currentAmp: 1.1 * stallAmp(motor),
      speedRadPerSec: motor.rating.speedLimitRadPerSec,
      busVolt: null,
      stallSec: 1,
      longestDriveSec: 10,
    },
    supplyVolt: bench.supply.openVolt,
    ambientCelsius: bench.ambientCelsius,
    noiseAmp: current.noise,
    noiseRadPerSec: null,
    pwmHz: null,
  }
  return {
    rig,
    rest,
    setShaft(locked, angleRad) {
      const angle = angleRad ?? plant.state().angleRad
      plant.setShaft(locked ? { hold: 'locked', angleRad: angle } : { hold: 'free' })
    },
    drive(plan) {
      // From standstill: what was made safe before.
      for (let i = 0; i < 600 && Math.abs(plant.state().speedRadPerSec) > 0.1; i++) rest(0.1)
      const recording = recordPractice(plant, plan.steps, plan.rateHz)
      const peakAmp = recording.columns.current!.reduce((a, b) => Math.max(a, Math.abs(b)), 0)
      return { recording, tripped: false, peakAmp }
    },
  }
}
