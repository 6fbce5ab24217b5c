import { failure, type Result, success } from '../base/result.ts'
import type { RunSignals, Signal } from '../signals/run-signals.ts'

/** A stretch of a heating run in which current flows or does not, the shaft stands or turns. */
export interface HeatBlock {
  readonly fromSec: number
  readonly toSec: number
  readonly ambientCelsius: number
  readonly standing: boolean
  /** Means over the stretch: electrical power, |i|, i². All 0 where no current flows. */
  readonly watt: number
  readonly amp: number
  readonly amp2: number
  /** Mean of i ω and of T_load ω: what a turning shaft makes of k, and what leaves through it. */
  readonly ampSpeed: number
  readonly loadWatt: number
  readonly reading: ResistanceReading | null
}

/** v/|i| with the shaft at rest: winding, brushes and leads in one. */
export interface ResistanceReading {
  readonly atSec: number
  readonly ohm: number
  readonly amp: number
  /** From the channels' noise alone. */
  readonly sigmaOhm: number
}

/** Stretches are at most this share of the run … */
const LONGEST_SHARE = 1 / 800
/** … and current flows above this share of its reach, or `FLOW_NOISES` standard deviations. */
const FLOW_SHARE = 0.005
const FLOW_NOISES = 8
const TURN_NOISES = 6
/** After the bridge closed, current and contact settle for so long, at most half of the stretch. */
const SETTLE_SEC = 0.1
/** A resistance is told to no better than this share: hum, drift of the channels. Common practice, no source. */
const STEADY_SHARE = 1e-4
const FEWEST_READINGS = 20

/**
 * Cuts a heating run into stretches and reads the resistance where the shaft stands and current flows.
 * Between two samples nothing is known: a stretch reaches half-way to the next sample, or to the logged edge
 * of the bridge. Small pulses need a sample without current before and after them.
 */
export function heatBlocks(signals: RunSignals): Result<HeatBlock[], string> {
  const { voltage, current, timeSec } = signals
  if (!voltage || !current) {
    return failure('a heating run needs voltage and current channels')
  }
  if (!timeSec || timeSec.length < 2) {
    return failure('a heating run needs a time column: temperatures are found from their course')
  }
  const keys = keysOf(signals, current)
  const bounds = boundsOf(signals, keys, timeSec)
  const blocks = bounds.map(([start, end], b): HeatBlock => {
    const before = bounds[b - 1]
    const key = keys[start]!
    return blockOf(signals, {
      start,
      end,
      fromSec: before ? between(signals, keys, start) : timeSec[start]!,
      toSec: b + 1 < bounds.length ? between(signals, keys, end) : timeSec[end - 1]!,
      key,
      fresh: start === 0 || keys[start - 1] !== key,
      last: end === keys.length || keys[end] !== key,
    })
  })
  const readings = blocks.filter(block => block.reading).length
  if (readings < FEWEST_READINGS) {
    const turns = keys.includes(TURNING)
    return failure(
      `${readings} readings of the resistance, ${FEWEST_READINGS} are needed: ${turns ? 'stop the shaft and send a small pulse now and then' : 'heat for longer, or send small pulses more often while it cools'}`,
    )
  }
  return success(blocks)
}

/**
 * As declared. What is found from neighbouring samples is no noise where a slow logger keeps one reading of each
 * pulse: then at most so much of the reach.
 */
const noiseOf = ({ traits, noise, reach }: Signal): number =>
  traits.noise ?? Math.min(noise, USUAL_NOISE_SHARE * reach)
const USUAL_NOISE_SHARE = 3e-4

const NOTHING = 0
const STANDING = 1
const TURNING = 2

function keysOf(signals: RunSignals, current: Signal): Uint8Array {
  const { speed } = signals
  const flows = Math.max(FLOW_SHARE * current.reach, FLOW_NOISES * noiseOf(current))
  const turns = speed ? Math.max(TURN_NOISES * speed.noise, 0.5) : 0
  return Uint8Array.from(current.values, (amp, i) => {
    if (speed && Math.abs(speed.values[i]!) > turns) return TURNING
    return Math.abs(amp) > flows ? STANDING : NOTHING
  })
}

function boundsOf(
  signals: RunSignals,
  keys: Uint8Array,
  timeSec: Float64Array,
): (readonly [number, number])[] {
  const longest = LONGEST_SHARE * (timeSec.at(-1)! - timeSec[0]!)
  const bounds: (readonly [number, number])[] = []
  let start = 0
  for (let i = 1; i <= keys.length; i++) {
    const isOver = i === keys.length
    const isLong = !isOver && timeSec[i]! - timeSec[start]! > longest
    if (!isOver && keys[i] === keys[start] && !isLong) continue
    bounds.push([start, i])
    start = i
  }
  return signals.count > 0 ? bounds : []
}

/** Where something began or ended the logged edge between sample `i` and the one before, else the middle. */
function between({ run, timeSec }: RunSignals, keys: Uint8Array, i: number): number {
  const [low, high] = [timeSec![i - 1]!, timeSec![i]!]
  const edge =
    keys[i] === keys[i - 1]
      ? undefined
      : run.recording.edges.find(({ timeSec: at }) => at >= low && at <= high)
  return edge?.timeSec ?? (low + high) / 2
}

interface Stretch {
  readonly start: number
  readonly end: number
  readonly fromSec: number
  readonly toSec: number
  readonly key: number
  /** The first after something else, and the last before. */
  readonly fresh: boolean
  readonly last: boolean
}

function blockOf(signals: RunSignals, stretch: Stretch): HeatBlock {
  const { voltage, current, speed, torque, timeSec, run } = signals
  const { start, end, fromSec, toSec, key, fresh, last } = stretch
  const settled = fresh ? settledFrom(timeSec!, start, end) : start
  // A sample averages over the time before it and may reach across the edge; a slow logger has no other.
  const isWholePulse = fresh && end - settled <= 2
  const whole = last && !isWholePulse ? end - 1 : end
  let [watt, amp, amp2, ampSpeed, loadWatt, used] = [0, 0, 0, 0, 0, 0]
  let [volts, amps, time, count] = [0, 0, 0, 0]
  for (let i = start; i < end; i++) {
    const v = voltage!.values[i]!
    const a = current!.values[i]!
    if (Number.isNaN(v) || Number.isNaN(a)) continue
    const turning = key === TURNING ? (speed?.values[i] ?? 0) : 0
    const load = torque?.values[i] ?? run.conditions.loadTorqueNm
    used++
    watt += v * a
    amp += Math.abs(a)
    amp2 += a * a
    ampSpeed += a * turning
    loadWatt += load * turning
    if (key !== STANDING || i < settled || i >= whole) continue
    volts += v * Math.sign(a)
    amps += Math.abs(a)
    time += timeSec![i]!
    count++
  }
  const flows = key !== NOTHING && used > 0
  const share = flows ? 1 / used : 0
  return {
    fromSec,
    toSec,
    ambientCelsius: ambientOf(signals, start, end),
    standing: key !== TURNING,
    watt: share * watt,
    amp: share * amp,
    amp2: share * amp2,
    ampSpeed: share * ampSpeed,
    loadWatt: share * loadWatt,
    reading: count > 0 && volts > 0 ? readingOf(signals, volts, amps, time, count) : null,
  }
}

function readingOf(
  { voltage, current }: RunSignals,
  volts: number,
  amps: number,
  time: number,
  count: number,
): ResistanceReading {
  const ohm = volts / amps
  const white =
    Math.hypot((noiseOf(voltage!) * count) / volts, (noiseOf(current!) * count) / amps) /
    Math.sqrt(count)
  return {
    atSec: time / count,
    ohm,
    amp: amps / count,
    sigmaOhm: ohm * Math.hypot(white, STEADY_SHARE),
  }
}

function settledFrom(timeSec: Float64Array, start: number, end: number): number {
  const half = start + Math.floor((end - start) / 2)
  let first = start
  while (first < half && timeSec[first]! - timeSec[start]! < SETTLE_SEC) first++
  return first
}

/** The air as measured, else as declared, else as warm as the winding at the start, else 20 degC. */
function ambientOf({ run }: RunSignals, start: number, end: number): number {
  const column = run.recording.columns.ambient
  let [sum, count] = [0, 0]
  for (let i = start; column && i < end; i++) {
    if (Number.isNaN(column[i]!)) continue
    sum += column[i]!
    count++
  }
  if (count > 0) return sum / count
  return run.conditions.ambientCelsius ?? run.conditions.windingCelsius ?? ASSUMED_CELSIUS
}

export const ASSUMED_CELSIUS = 20
