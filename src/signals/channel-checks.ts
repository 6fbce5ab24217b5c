import type { Quantity } from '../records/quantity.ts'
import type { TestKind } from '../records/test-kind.ts'
import type { TestRun } from '../records/test-run.ts'
import { median } from '../statistics/robust.ts'
import { isCoarse, repeatedTimes } from './coarse-time.ts'
import { voltageJumps } from './jumps.ts'
import { findPhases } from './phases.ts'
import { FEWEST_SAMPLES_A_PERIOD, hasMeans, switchedVoltage } from './switched-means.ts'
import type { RunSignals, Signal } from './run-signals.ts'
import { plainMean, steadyLevels } from './steady-levels.ts'

/** Something about a run's channels that makes numbers wrong without making them impossible. */
export interface ChannelFinding {
  readonly code:
    | 'constant-channel'
    | 'saturated-channel'
    | 'missing-samples'
    | 'swapped-channels'
    | 'speed-unit'
    | 'current-polarity'
    | 'coarse-time'
    | 'no-zero'
    | 'raw-pwm'
  readonly text: string
  /** Whatever the run says would be wrong: it has to be left out. */
  readonly spoils: boolean
}

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
/** So many equal readings in a row at the very end of the range, and such a share of all, are no chance. */
const STUCK_RUN = 5
const STUCK_SHARE = 0.002
/** A clipped channel runs into its limit: by more than this share of its reach over three samples. */
const KINK = 1e-4
/** A noisy channel repeats its last reading in less than this share of the samples. */
const NOISY_REPEATS = 0.3

/** Share of the driven samples that may be saturated before the rest says nothing any more. */
const MOST_SATURATED = 0.1
/** Kinds in which nothing but the motor turns the shaft. */
const UNAIDED: readonly TestKind[] = ['free-run', 'run-up', 'coast-down', 'mixed']
/** Change of a steady speed over its level, as a share. */
const STEADY = 0.03
/** Kinds in which a current that never moves at all comes from no sensor. */
const DRIVEN: readonly TestKind[] = ['locked-rotor', 'free-run', 'run-up', 'load', 'mixed']

/** Channels that can end at their range or miss samples. */
const MEASURED = ['voltage', 'current', 'speed', 'torque'] as const

/** Constant, saturated, gappy, swapped or reversed channels, and speeds that no shaft has. */
export function checkChannels(
  run: TestRun,
  signals: RunSignals,
  saturated = saturatedChannels(run, signals),
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
    ...rawPwm(signals),
    ...tooFast(signals),
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

/** Readings at the declared limits, or stuck at the largest of a channel that is noisy everywhere else. */
function saturation(
  name: Quantity,
  found: SaturatedSamples | undefined,
  signals: RunSignals,
): ChannelFinding[] {
  if (!found) return []
  let inDrive = 0
  let driven = 0
  for (const phase of findPhases(signals).phases) {
    if (phase.kind !== 'drive') continue
    driven += phase.end - phase.start
    for (let i = phase.start; i < phase.end; i++) inDrive += found.flags[i]!
  }
  return [
    {
      code: 'saturated-channel',
      text: `${name} is at the end of its range in ${found.count} samples; choose a larger range or a lower level`,
      spoils: inDrive > MOST_SATURATED * driven,
    },
  ]
}

export interface SaturatedSamples {
  /** 1 where the reading is no measurement but the end of the range. */
  readonly flags: Uint8Array
  readonly count: number
}

/** The channels of a run of which some samples are at the end of their range. */
export function saturatedChannels(
  run: TestRun,
  signals: RunSignals,
): ReadonlyMap<Quantity, SaturatedSamples> {
  return new Map(
    MEASURED.flatMap(name => {
      const signal = signals[name]
      const found = signal && saturatedSamples(name, signal, run)
      return found ? [[name, found] as const] : []
    }),
  )
}

/** Which samples of a channel are at the end of its range; null where there are none. */
export function saturatedSamples(
  name: Quantity,
  signal: Signal,
  run: TestRun,
): SaturatedSamples | null {
  const raw = run.recording.columns[name] ?? signal.values
  const rangeLow = signal.traits.rangeLow ?? Number.NEGATIVE_INFINITY
  const rangeHigh = signal.traits.rangeHigh ?? Number.POSITIVE_INFINITY
  const flags = new Uint8Array(raw.length)
  let declared = 0
  let high = Number.NEGATIVE_INFINITY
  let low = Number.POSITIVE_INFINITY
  for (let i = 0; i < raw.length; i++) {
    const value = raw[i]!
    if (value >= rangeHigh || value <= rangeLow) {
      declared++
      flags[i] = 1
    }
    if (value > high) high = value
    if (value < low) low = value
  }
  const sampled = run.recording.timeSec !== null
  const kink = KINK * signal.reach
  // A shaft at rest and a current of nil are no limits.
  const ends = [high, low].filter(end => Math.abs(end) > signal.reach / 10)
  let stuck = 0
  for (const end of sampled ? ends : []) {
    const length = runAt(raw, end, kink)
    if (length < STUCK_RUN || length < STUCK_SHARE * raw.length) continue
    // A set voltage without noise stays at its highest by rights, and at every other level too.
    const counted = name === 'voltage' ? underCurrent(run) : null
    if (!seldomRepeats(raw, [high, low], counted)) break
    stuck = Math.max(stuck, length)
    // A range that ends on one side does so on the other, however seldom that is reached.
    const limit = Math.abs(end) * (1 - 1e-9)
    for (let i = 0; i < raw.length; i++) if (Math.abs(raw[i]!) >= limit) flags[i] = 1
  }
  return declared === 0 && stuck === 0 ? null : { flags, count: declared || stuck }
}

/** Whether current flows, by which a voltage that is set is told from one that is only read; null without a current. */
function underCurrent({ recording: { columns } }: TestRun): ((i: number) => boolean) | null {
  const { current } = columns
  if (!current) return () => false
  let peak = 0
  for (const amp of current) if (Math.abs(amp) > peak) peak = Math.abs(amp)
  return i => Math.abs(current[i]!) > FLOWS * peak
}

/** Share of the largest current from which one flows. */
const FLOWS = 0.02
/** Fewest samples by which a channel is known to be noisy. */
const FEWEST_COUNTED = 50

/** Whether a channel is noisy, but for the samples at its limits. */
function seldomRepeats(
  values: Float64Array,
  limits: readonly number[],
  counts: ((i: number) => boolean) | null,
): boolean {
  let repeated = 0
  let counted = 0
  for (let i = 1; i < values.length; i++) {
    if (limits.includes(values[i]!) || counts?.(i) === false) continue
    counted++
    if (values[i] === values[i - 1]) repeated++
  }
  if (counts !== null && counted < FEWEST_COUNTED) return false
  return repeated < NOISY_REPEATS * counted
}

/** Longest run of samples equal to a value that was reached with a kink, not by settling there. */
function runAt(values: Float64Array, limit: number, kink: number): number {
  let longest = 0
  let length = 0
  for (let i = 3; i < values.length; i++) {
    if (values[i] !== limit) length = 0
    else if (length > 0 || Math.abs(limit - values[i - 3]!) > kink) length++
    if (length > longest) longest = length
  }
  return longest
}

function gaps(name: Quantity, { values }: Signal): ChannelFinding[] {
  let missing = 0
  for (const value of values) if (Number.isNaN(value)) missing++
  if (missing <= GAPS * values.length) return []
  const share = Math.round((100 * missing) / values.length)
  const text = `${share} % of the ${name} samples are missing`
  return [{ code: 'missing-samples', text, spoils: false }]
}

/**
 * A winding's current cannot jump and its voltage does: where the "current" is there at once after each step while
 * the "voltage" creeps after it, the two are swapped. Samples too slow to show the difference say nothing.
 */
function swapped(run: TestRun, { current, voltage }: RunSignals): ChannelFinding[] {
  if (!current || !voltage || !run.recording.timeSec) return []
  const places = voltageJumps(current.values).filter(
    // What creeps is on its way soon: a step of its own some samples later is another one.
    i => rises(current, i) && rises(voltage, i) && shareOfStep(voltage, i, 4) > UNDER_WAY,
  )
  if (places.length === 0) return []
  const share = (signal: Signal, later: number) =>
    median(places.map(i => shareOfStep(signal, i, later)))
  const isAtOnce = share(current, 0) > 0.9 && share(current, 0) < 1.1
  // A sample that is a mean over an edge stands half-way too, but the next one is there.
  const creeps = share(voltage, 0) < 0.7 && share(voltage, 1) < 0.9
  if (!(isAtOnce && creeps)) return []
  return [
    {
      code: 'swapped-channels',
      text: 'the current jumps where the voltage only creeps; current and voltage seem to be swapped',
      spoils: true,
    },
  ]
}

/** At least so much of a creeping step is done half-way through the samples that are looked at. */
const UNDER_WAY = 0.4

/** Share of its reach by which a channel rises for the step to be evidence. */
const STEP = 0.1

/** A bridge that opens takes the current down within one sample too: only rises of both are evidence. */
function rises({ values, reach, noise }: Signal, i: number): boolean {
  if (i <= 2 || i + 8 >= values.length) return false
  const rise = Math.abs(values[i + 8]!) - Math.abs(values[i - 3]!)
  return rise > Math.max(8 * noise, STEP * reach)
}

/** How much of a step is done by its first sample, or `later` than that, against where it stands in the end. */
function shareOfStep({ values }: Signal, i: number, later: number): number {
  const before = values[i - 3]!
  return Math.abs((values[i + later]! - before) / (values[i + 8]! - before || 1))
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
function rawPwm(signals: RunSignals): ChannelFinding[] {
  const switched = switchedVoltage(signals)
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
