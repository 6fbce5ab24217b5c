import type { ModelPoint } from '../motor/parameters.ts'
import type { PreparedRun } from '../motor/prepared-run.ts'
import { PLAIN_TRAITS } from '../records/recording.ts'
import type { TestRun } from '../records/test-run.ts'
import {
  type RunSignals,
  readSignals,
  type Signal,
  type ZeroOffsets,
} from '../signals/run-signals.ts'
import { screenRun } from '../signals/screen-run.ts'
import { usualPeriodSec } from '../signals/usual-period.ts'
import { whiteNoise } from '../statistics/robust.ts'
import type { Member } from './joint-model.ts'
import { excerptOf } from './prepare/excerpt.ts'
import { prepareRun } from './prepare/prepare-run.ts'
import type { NoiseUnits } from './refine-noise.ts'
import { firstNoise } from './run-noise.ts'
import { groupsOf } from './run-offsets.ts'
import type { RunZeros } from './run-zeros.ts'

/** A run ready for the joint fit. */
export interface JointRun {
  readonly run: TestRun
  readonly signals: RunSignals
  readonly member: Member
}

/** The sampled runs that say something, as the model wants them. Tables and zero tests are left out. */
export function jointRuns(
  runs: readonly TestRun[],
  zeros: RunZeros,
  referenceCelsius: number,
): JointRun[] {
  const readable = runs.flatMap(run => {
    if (run.kind === 'zero' || run.recording.timeSec === null) return []
    const { offsets } = zeros(run)
    const { run: clean, spoiledBy } = screenRun(run, offsets)
    if (spoiledBy) return []
    const signals = modelSignals(clean, offsets)
    if (signals.count < FEWEST_SAMPLES || !canBeModelled(signals)) return []
    const prepared = prepareRun(signals, { merge: true, referenceCelsius })
    return prepared.stepCount < FEWEST_STEPS ? [] : [{ run, signals, prepared }]
  })
  const usable = withAKnownSpeed(readable)
  const locked = new Map(usable.map(({ run, prepared }) => [run, prepared.shaft === 'locked']))
  const groups = groupsOf(
    usable.map(({ run }) => run),
    run => locked.get(run) === true,
  )
  return usable.map(({ run, signals, prepared }, r) => ({
    run,
    signals,
    member: {
      run: prepared,
      excerpt: excerptOf(prepared),
      noise: firstNoise(signals),
      group: groups[r]!,
    },
  }))
}

/**
 * A shaft that turns at a speed that no run tells can be any motor's: beside runs that tell the back-EMF
 * constant its current says something, without them it would only take the locked runs' numbers along.
 */
function withAKnownSpeed<T extends Pick<JointRun, 'signals'> & { prepared: PreparedRun }>(
  runs: readonly T[],
): readonly T[] {
  const turns = ({ prepared }: T) => prepared.shaft === 'free'
  const tellsSpeed = (run: T) => turns(run) && run.signals.speed !== null
  return runs.some(tellsSpeed) ? runs : runs.filter(run => !turns(run))
}

const FEWEST_SAMPLES = 20
const FEWEST_STEPS = 8

/** Something drives the model and something is there to compare. */
function canBeModelled({ voltage, current, speed }: RunSignals): boolean {
  return (
    (voltage !== null && (current !== null || speed !== null)) ||
    (current !== null && speed !== null)
  )
}

/**
 * The signals of a run; where there is a position and no speed, the speed is the change of position
 * from sample to sample, a mean over the period, which adds nothing of its own.
 */
function modelSignals(run: TestRun, zeros: ZeroOffsets): RunSignals {
  const signals = readSignals(run, zeros)
  const { speed, position } = run.recording.columns
  const time = run.recording.timeSec!
  if (speed !== undefined || position === undefined) return signals
  const values = new Float64Array(position.length).fill(Number.NaN)
  for (let k = 1; k < values.length; k++) {
    values[k] = (position[k]! - position[k - 1]!) / (time[k]! - time[k - 1]!)
  }
  const periodSec = usualPeriodSec(time)
  const traits = run.recording.traits.position ?? PLAIN_TRAITS
  const resolution = traits.resolution ?? finestStep(position)
  const rounding = resolution / Math.sqrt(6) / periodSec
  const derived: Signal = {
    values,
    noise: Math.max(whiteNoise(values), rounding),
    reach: signals.speed?.reach ?? 0,
    traits: { ...PLAIN_TRAITS, apertureSec: periodSec, delaySec: traits.delaySec },
    isReading: null,
  }
  return { ...signals, speed: derived }
}

/**
 * Step of a position that nobody declared: the least change between neighbours, of an encoder one count. A
 * channel that is no count but noise changes by less than its noise, and this adds next to nothing.
 */
function finestStep(position: Float64Array): number {
  let finest = Number.POSITIVE_INFINITY
  for (let k = 1; k < position.length; k++) {
    const step = Math.abs(position[k]! - position[k - 1]!)
    if (step > SAME * Math.abs(position[k]!) && step < finest) finest = step
  }
  return Number.isFinite(finest) ? finest : 0
}

/** Two readings of one count differ by no more than rounding of the number, relative. */
const SAME = 1e-8

/** What the channels' own noise amounts to where it would pass for ripple or rough friction. */
export function noiseUnitsOf(runs: readonly JointRun[], start: ModelPoint): NoiseUnits[] {
  return runs.map(({ signals, member: { noise } }) => {
    const emf = start.backEmfConstantVsPerRad * (signals.speed?.reach ?? 0)
    const ohmic = start.resistanceOhm * (signals.current?.reach ?? 0)
    const winding = start.torqueConstantNmPerA * (signals.current?.reach ?? 0)
    const periodSec = usualPeriodSec(signals.timeSec!)
    const torque = start.torqueConstantNmPerA ** 2 * noise.current * periodSec
    return {
      ripple: emf > 0 ? noise.voltage / emf ** 2 : 1e-6,
      resistanceRipple: ohmic > 0 ? noise.voltage / ohmic ** 2 : 1e-6,
      torque: torque || 1e-30,
      torqueRipple: winding > 0 ? torque / winding ** 2 : 1e-9,
    }
  })
}

export const preparedOf = (runs: readonly JointRun[]): PreparedRun[] =>
  runs.map(({ member }) => member.run)
