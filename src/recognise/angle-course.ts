import { findPhases } from '../signals/phases.ts'
import type { RunSignals } from '../signals/run-signals.ts'
import { quantileOf } from '../statistics/robust.ts'

export interface AngleCourse {
  /** v/i less brush drop and back-EMF in each of `BINS` arcs of the turn; NaN where nothing was read. */
  readonly ohm: Float64Array
  readonly turns: number
}

const BINS = 120
const TURN = 2 * Math.PI
/** The shaft is slow while its back-EMF stays below this share of the voltage … */
const SLOW = 0.4
/** … and, as long as k is not known, its speed below this. */
const SLOW_RAD_PER_SEC = 10

/** Shaft angle at each sample, rad: the position channel, else the integral of the speed. */
export function angleOf({ run, speed, timeSec }: RunSignals): Float64Array | null {
  const { position } = run.recording.columns
  if (position) return position
  if (!speed || !timeSec) return null
  const angle = new Float64Array(speed.values.length)
  for (let i = 1; i < angle.length; i++) {
    const mean = (speed.values[i - 1]! + speed.values[i]!) / 2
    angle[i] = angle[i - 1]! + (Number.isNaN(mean) ? 0 : mean * (timeSec[i]! - timeSec[i - 1]!))
  }
  return angle
}

/** Resistance over the angle from a slow turn under current; null where a run is none, or less than one turn. */
export function resistanceOverAngle(
  signals: RunSignals,
  dropVolt: number,
  backEmf: number,
): AngleCourse | null {
  const { voltage, current, speed } = signals
  const angle = angleOf(signals)
  if (!angle || !voltage || !current || !speed) return null
  const isSlow =
    backEmf === 0
      ? speed.reach < SLOW_RAD_PER_SEC
      : Math.abs(backEmf) * speed.reach < SLOW * voltage.reach
  if (!isSlow) return null
  const volts = new Float64Array(BINS)
  const amps = new Float64Array(BINS)
  let way = 0
  for (let i = 1; i < angle.length; i++) {
    const v = voltage.values[i]!
    const a = current.values[i]!
    const emf = backEmf * speed.values[i]!
    if (!(Math.abs(a) > 20 * current.noise) || Number.isNaN(v - emf)) continue
    const step = Math.abs(angle[i]! - angle[i - 1]!)
    if (!(step > 0)) continue
    way += step
    const turn = angle[i]! / TURN
    const bin = Math.min(BINS - 1, Math.floor((turn - Math.floor(turn)) * BINS))
    volts[bin]! += v * Math.sign(a) - dropVolt - emf * Math.sign(a)
    amps[bin]! += Math.abs(a)
  }
  const ohm = volts.map((volt, b) => (amps[b]! > 0 ? volt / amps[b]! : Number.NaN))
  const read = ohm.filter(value => !Number.isNaN(value)).length
  return way > TURN && read > 0.8 * BINS ? { ohm, turns: way / TURN } : null
}

export const highOf = (ohm: Float64Array): number => quantileOf(ohm, 0.97)
export const lowOf = (ohm: Float64Array): number => quantileOf(ohm, 0.03)

export interface TurnOrder {
  readonly order: number
  /** Amplitude of the back-EMF constant's unevenness over its mean, as the current shows it. */
  readonly share: number
  readonly standardUncertainty: number
}

const ORDERS = 12
const FEWEST_TURNS = 4

/**
 * Lines of the current at whole multiples of the rate of turning while the shaft turns steadily, as unevenness of k:
 *   δk/k = δi |R + jnωL| / (k ω)
 * Inertia is taken to hold the speed; below some ten turns a second it does not, and the share is too small.
 */
export function turnOrders(
  signals: RunSignals,
  motor: { ohm: number; henry: number; k: number },
  upTo = ORDERS,
): TurnOrder[] {
  const { current, speed, timeSec } = signals
  const angle = angleOf(signals)
  if (!angle || !current || !speed || !timeSec) return []
  const phase = findPhases(signals).phases.findLast(({ kind, start, end }) => {
    const from = Math.floor((start + end) / 2)
    return kind === 'drive' && Math.abs(angle[end - 1]! - angle[from]!) > FEWEST_TURNS * TURN
  })
  if (!phase) return []
  // Whole turns of the later half.
  const end = phase.end - 1
  const half = Math.floor((phase.start + phase.end) / 2)
  const turns = Math.floor(Math.abs(angle[end]! - angle[half]!) / TURN)
  let from = end
  while (Math.abs(angle[end]! - angle[from]!) < turns * TURN) from--
  const n = end - from
  const omega = Math.abs(angle[end]! - angle[from]!) / (timeSec[end]! - timeSec[from]!)
  let mean = 0
  for (let i = from; i < end; i++) mean += current.values[i]! / n
  // Samples must follow each line by five a period at least.
  const most = Math.floor((2 * Math.PI * n) / (timeSec[end]! - timeSec[from]!) / omega / 5)
  return Array.from({ length: Math.min(upTo, Math.max(0, most)) }, (_, o): TurnOrder => {
    const order = o + 1
    let [re, im] = [0, 0]
    for (let i = from; i < end; i++) {
      const away = current.values[i]! - mean
      re += away * Math.cos(order * angle[i]!)
      im += away * Math.sin(order * angle[i]!)
    }
    const perAmp = Math.hypot(motor.ohm, order * omega * motor.henry) / (Math.abs(motor.k) * omega)
    return {
      order,
      share: ((2 * Math.hypot(re, im)) / n) * perAmp,
      standardUncertainty: current.noise * Math.sqrt(2 / n) * perAmp,
    }
  })
}
