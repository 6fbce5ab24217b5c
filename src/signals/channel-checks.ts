import type { Quantity } from '../records/quantity.ts'
import type { TestKind } from '../records/test-kind.ts'
import type { TestRun } from '../records/test-run.ts'
import type { ChannelFinding } from './channel-finding.ts'
import { isCoarse, repeatedTimes } from './coarse-time.ts'
import { findPhases } from './phases.ts'
import type { RunSignals, Signal } from './run-signals.ts'
import { MEASURED, saturatedChannels, saturation } from './saturated-samples.ts'
import { plainMean, steadyLevels } from './steady-levels.ts'
import { supplyVoltage } from './supply-voltage.ts'
import { swapped } from './swapped-channels.ts'
import { FEWEST_SAMPLES_A_PERIOD, hasMeans, switchedVoltage } from './switched-voltage.ts'

/** Kinds in which a channel has to move for the run to say anything. */
const MUST_MOVE: Readonly<Record<TestKind, readonly Quantity[]>> = {
  zero: [],
  'locked-rotor': ['current'],
  'free-run': ['speed'],
  'run-up': ['current', 'speed'],
  'coast-down': ['speed'],
  'back-driven': ['voltage', 'speed'],
  load: ['current'],
  heating: [],
  mixed: ['current'],
}

/** Brushed motors turn no faster than about this, rad/s (33 000 1/min); common practice, no source. */
const FASTEST = 3500
/** 60/2π */
const PER_MINUTE = 60 / (2 * Math.PI)
/** Share of the samples that may be missing without a word. */
const GAPS = 0.05
/** Kinds in which nothing but the motor turns the shaft. */
const UNAIDED: readonly TestKind[] = ['free-run', 'run-up', 'coast-down', 'mixed']
/** Change of a steady speed over its level, as a share. */
const STEADY = 0.03
/** Kinds in which a current that never moves at all comes from no sensor. */
const DRIVEN: readonly TestKind[] = ['locked-rotor', 'free-run', 'run-up', 'load', 'mixed']

/** Constant, saturated, gappy, swapped or reversed channels, and speeds that no shaft has. */
export function checkChannels(
  run: TestRun,
  signals: RunSignals,
  saturated = saturatedChannels(run, signals),
  switched = switchedVoltage(signals),
): ChannelFinding[] {
  return [
    ...constants(run, signals),
    ...MEASURED.flatMap(name => {
      const signal = signals[name]
      return signal
        ? [...saturation(name, saturated.get(name), signals), ...gaps(name, signal)]
        : []
    }),
    ...swapped(run, signals),
    ...reversedCurrent(signals),
    ...coarseTime(run),
    ...rawPwm(switched),
    ...tooFast(signals),
    ...supplyVoltage(signals),
  ]
}

function constants(run: TestRun, signals: RunSignals): ChannelFinding[] {
  return (['voltage', 'current', 'speed'] as const).flatMap((name): ChannelFinding[] => {
    const column = run.recording.columns[name]
    if (!column || column.length < 3 || column.some(value => value !== column[0])) return []
    const spoils = run.recording.timeSec !== null && isDead(name, run.kind, signals)
    const lost = name === 'current' && run.kind === 'coast-down' && isDriven(run, signals)
    if (!spoils && !lost && !MUST_MOVE[run.kind].includes(name)) return []
    return [
      {
        code: 'constant-channel',
        text: `${name} reads ${column[0]} in all ${column.length} samples; check that its sensor is connected`,
        spoils: spoils || lost,
      },
    ]
  })
}

/** A bridge that drives before the coast sends a current. */
function isDriven(run: TestRun, signals: RunSignals): boolean {
  const driven = findPhases(signals).phases.filter(({ kind }) => kind === 'drive')
  const count = driven.reduce((sum, { start, end }) => sum + end - start, 0)
  return count > DRIVEN_SHARE * run.recording.sampleCount
}

/** Share of a coast's samples from which what stands before it is a drive. */
const DRIVEN_SHARE = 0.02

/** A set voltage may read the same throughout; not while the terminals open or the current goes back to nil. */
function isDead(name: Quantity, kind: TestKind, signals: RunSignals): boolean {
  const { voltage, current, speed } = signals
  if (name === 'current') return DRIVEN.includes(kind)
  if (name !== 'voltage' || !voltage) return false
  if (kind === 'coast-down') return voltage.values[0] !== 0
  if (!DRIVEN.includes(kind)) return false
  if (voltage.values[0] === 0) return true
  const turned = speed && speed.reach > Math.max(6 * speed.noise, 1)
  if (kind !== 'locked-rotor' || !current || turned) return false
  const { length } = current.values
  const late = plainMean(current.values, length - Math.ceil(length / 10), length)
  return Math.abs(late) < current.reach / 2
}

function gaps(name: Quantity, { values }: Signal): ChannelFinding[] {
  let missing = 0
  for (const value of values) if (Number.isNaN(value)) missing++
  if (missing <= GAPS * values.length) return []
  const share = Math.round((100 * missing) / values.length)
  const text = `${share} % of the ${name} samples are missing`
  return [{ code: 'missing-samples', text, spoils: false }]
}

/** A motor takes power in wherever it turns steadily without help. */
function reversedCurrent(signals: RunSignals): ChannelFinding[] {
  const { run, voltage, current, speed } = signals
  if (!UNAIDED.includes(run.kind) || !voltage || !current || !speed) return []
  const powers = steadyLevels(signals).flatMap(level => {
    if (level.kind !== 'drive' && level.kind !== 'reading') return []
    if (!level.settled || !level.voltage || !level.current || !level.speed) return []
    const turns = Math.abs(level.speed.value)
    const drifts = Math.abs(level.speed.slopePerSec) * level.durationSec > STEADY * turns
    const amp = Math.abs(level.current.value)
    const flows = amp > Math.max(5 * level.current.standardUncertainty, 0.01 * current.reach)
    const isTurning = turns > Math.max(6 * speed.noise, 0.05 * speed.reach)
    return isTurning && flows && !drifts ? [level.voltage.value * level.current.value] : []
  })
  const negative = powers.filter(watt => watt < 0).length
  if (!(negative > powers.length / 2)) return []
  return [
    {
      code: 'current-polarity',
      text: 'the motor seems to give power back while it is driven: current and voltage have opposite signs at a steady speed; turn the current channel round',
      spoils: true,
    },
  ]
}

function coarseTime({ recording: { timeSec } }: TestRun): ChannelFinding[] {
  if (!timeSec || !isCoarse(timeSec)) return []
  const share = Math.round(100 * repeatedTimes(timeSec))
  return [
    {
      code: 'coarse-time',
      text: `${share} % of the rows carry the time of the row before; inductance, inertia and friction are not taken from this run; write the time with more digits`,
      spoils: false,
    },
  ]
}

/** A voltage read now within the pulse and now beside it has no steady level. */
function rawPwm(switched: ReturnType<typeof switchedVoltage>): ChannelFinding[] {
  if (switched === null) return []
  const jumps = 'the voltage jumps between samples as a PWM bridge does'
  const instead = 'log or import means of voltage and current over whole PWM periods'
  if (switched === 'unsteady') {
    const text = `${jumps}, at no frequency that its samples show: it has no steady level; ${instead}`
    return [{ code: 'raw-pwm', text, spoils: true }]
  }
  const kilohertz = (hertz: number) => `${Number((hertz / 1000).toPrecision(3))} kHz`
  const often = `${jumps}, at ${kilohertz(1 / switched.periodSec)}`
  if (hasMeans(switched)) {
    const text = `${often}; means over whole periods take the place of its samples`
    return [{ code: 'raw-pwm', text, spoils: false }]
  }
  const few = Number(switched.samplesPerPeriod.toPrecision(2))
  const enough = kilohertz(FEWEST_SAMPLES_A_PERIOD / switched.periodSec)
  const text = `${often}, and ${few} samples a period do not say how long its pulses are; ${instead}, or samples at ${enough} and more`
  return [{ code: 'raw-pwm', text, spoils: true }]
}

function tooFast({ speed }: RunSignals): ChannelFinding[] {
  if (!speed || !(speed.reach > FASTEST)) return []
  return [
    {
      code: 'speed-unit',
      text: `the speed reaches ${Math.round(speed.reach)} rad/s, ${Math.round(speed.reach * PER_MINUTE)} turns a minute; was it recorded in 1/min and declared as rad/s? Then it would be ${Math.round(speed.reach / PER_MINUTE)} rad/s`,
      spoils: false,
    },
  ]
}
