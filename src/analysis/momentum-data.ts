import { isCoarse } from '../signals/coarse-time.ts'
import { findPhases, type Phase } from '../signals/phases.ts'
import type { RunSignals } from '../signals/run-signals.ts'
import { timeTo80 } from '../signals/steady-levels.ts'
import { DRAG_TERMS, dragShape } from './friction.ts'

/**
 * Stretches in which the speed changes, as block means of the speed and of the integrals that make it change:
 *   ω(t) = ω₀ + (1/j) [∫ i dt − α ∫ sgn ω dt − β ∫ ω dt − γ ∫ ω|ω| dt − o t],  j = J/k_t
 * which is exact whatever the current does, and needs no derivative of a noisy speed.
 */
export interface MomentumData {
  /** Middle of each block, from the start of its stretch. */
  readonly sinceSec: Float64Array
  /** Mean speed of each block. */
  readonly speed: Float64Array
  /** Mean of ∫ i dt of each block; all 0 where the terminals were open. */
  readonly charge: Float64Array
  /** Means of the integrals of the drag shapes, in the order of `DRAG_TERMS`. */
  readonly drag: readonly Float64Array[]
  readonly weight: Float64Array
  /** Which stretch a block belongs to, from 0. */
  readonly stretch: Int32Array
  readonly stretches: readonly Stretch[]
}

export interface Stretch {
  readonly kind: 'drive' | 'coast' | 'brake'
  readonly start: number
  readonly end: number
}

/** A shaft slower than this share of its fastest speed is left out: friction near standstill is another thing. */
const TOO_SLOW = 0.03
/** A driven stretch counts until so many times the time to 80 % of its change: after that it is steady. */
const DRIVEN_LENGTH = 3
/** A speed that wanders by this share of the fastest, without ever becoming steady, is used throughout. */
const UNSTEADY = 0.2
const MOST_STRETCHES = 30
const MOST_BLOCKS = 240
const FEWEST_SAMPLES = 8

export function momentumData(
  signals: RunSignals,
  kinds: readonly Stretch['kind'][],
): MomentumData | null {
  const { timeSec, speed, current } = signals
  if (!timeSec || !speed || isCoarse(timeSec)) return null
  const stretches = findPhases(signals).phases.flatMap(phase =>
    phase.kind !== 'standstill' && kinds.includes(phase.kind)
      ? stretchesOf(signals, phase, phase.kind)
      : [],
  )
  if (stretches.some(s => s.kind !== 'coast') && !current) return null
  const blocks = stretches.map(stretch => blocksOf(signals, stretch))
  if (blocks.length === 0) return null
  const joined = (pick: (b: Blocks) => Float64Array) => concat(blocks.map(pick))
  return {
    sinceSec: joined(b => b.sinceSec),
    speed: joined(b => b.speed),
    charge: joined(b => b.charge),
    drag: DRAG_TERMS.map((_, j) => joined(b => b.drag[j]!)),
    weight: joined(b => b.weight),
    stretch: Int32Array.from(blocks.flatMap((b, s) => Array.from(b.speed, () => s))),
    stretches,
  }
}

/** The runs of samples of a phase that turn one way, fast enough, with nothing missing. */
function stretchesOf(signals: RunSignals, phase: Phase, kind: Stretch['kind']): Stretch[] {
  const speed = signals.speed!
  const amp = kind === 'coast' ? null : signals.current
  const limit = Math.max(6 * speed.noise, TOO_SLOW * speed.reach)
  const [from, end] = changing(signals, phase, kind)
  const stretches: Stretch[] = []
  let start = -1
  for (let i = from; i <= end; i++) {
    const w = i < end ? speed.values[i]! : Number.NaN
    const usable = Math.abs(w) > limit && !(amp && Number.isNaN(amp.values[i]!))
    const turned = start >= 0 && usable && Math.sign(w) !== Math.sign(speed.values[start]!)
    if (usable && start < 0) start = i
    if (start >= 0 && (!usable || turned)) {
      if (i - start >= FEWEST_SAMPLES) stretches.push({ kind, start, end: i })
      start = turned ? i : -1
    }
  }
  return stretches.sort((a, b) => b.end - b.start - (a.end - a.start)).slice(0, MOST_STRETCHES)
}

/** The part of a phase in which the speed changes: all of a coast, a drive until it is steady. */
function changing(signals: RunSignals, phase: Phase, kind: Stretch['kind']): [number, number] {
  if (kind === 'coast') return [currentGone(signals, phase), phase.end]
  const speed = signals.speed!
  const quick = timeTo80(speed, phase)
  if (quick > 0) return [phase.start, Math.min(phase.end, phase.start + DRIVEN_LENGTH * quick)]
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (let i = phase.start; i < phase.end; i++) {
    low = Math.min(low, speed.values[i]!)
    high = Math.max(high, speed.values[i]!)
  }
  return high - low > UNSTEADY * speed.reach ? [phase.start, phase.end] : [phase.end, phase.end]
}

/** First sample of a coast from which no current is left: after the freewheel pulse and the sensors' windows. */
export function currentGone(signals: RunSignals, phase: Phase): number {
  const { current, timeSec, speed } = signals
  const aperture = Math.max(speed?.traits.apertureSec ?? 0, current?.traits.apertureSec ?? 0)
  const guard = phase.start + 2
  let last = phase.start
  if (current) {
    const limit = Math.max(5 * current.noise, 0.002 * current.reach)
    const until = phase.start + Math.floor((phase.end - phase.start) / 4)
    for (let i = phase.start; i < until; i++) if (Math.abs(current.values[i]!) > limit) last = i
  }
  let first = Math.max(guard, last + 2)
  while (first < phase.end && timeSec![first]! < timeSec![last]! + 2 * aperture) first++
  return first
}

interface Blocks {
  readonly sinceSec: Float64Array
  readonly speed: Float64Array
  readonly charge: Float64Array
  readonly drag: readonly Float64Array[]
  readonly weight: Float64Array
}

function blocksOf(signals: RunSignals, stretch: Stretch): Blocks {
  const { start, end } = stretch
  const speed = signals.speed!.values
  const length = end - start
  const count = Math.min(MOST_BLOCKS, length)
  const sums = Array.from({ length: 3 + DRAG_TERMS.length }, () => new Float64Array(count))
  const weight = new Float64Array(count)
  walkIntegrals(signals, stretch, (i, sinceSec, integrals) => {
    const b = Math.floor(((i - start) * count) / length)
    weight[b]! += 1
    sums[0]![b]! += sinceSec
    sums[1]![b]! += speed[i]!
    for (let j = 0; j < integrals.length; j++) sums[2 + j]![b]! += integrals[j]!
  })
  for (let b = 0; b < count; b++) for (const sum of sums) sum[b]! /= weight[b]!
  const [sinceSec, means, charge, ...drag] = sums
  return { sinceSec: sinceSec!, speed: means!, charge: charge!, drag, weight }
}

/**
 * Goes through the samples of a stretch with ∫ i dt and the integrals of the drag shapes from its start, as the
 * speed reading of that moment shows them: a speed that lags the current shows what they were that long ago.
 */
export function walkIntegrals(
  signals: RunSignals,
  { kind, start, end }: Stretch,
  visit: (i: number, sinceSec: number, integrals: Float64Array) => void,
): void {
  const time = signals.timeSec!
  const speed = signals.speed!
  const amps = kind === 'coast' ? null : signals.current!
  const late = amps ? centreDelay(speed.traits) - centreDelay(amps.traits) : 0
  const integral = new Float64Array(1 + DRAG_TERMS.length)
  const before = new Float64Array(integral.length)
  const now = new Float64Array(integral.length)
  const seen = new Float64Array(integral.length)
  for (let i = start; i < end; i++) {
    now[0] = amps ? amps.values[i]! : 0
    for (let j = 1; j < now.length; j++) now[j] = dragShape(DRAG_TERMS[j - 1]!, speed.values[i]!)
    const half = i > start ? (time[i]! - time[i - 1]!) / 2 : 0
    for (let j = 0; j < now.length; j++) {
      integral[j]! += half * (before[j]! + now[j]!)
      seen[j] = integral[j]! - late * now[j]!
    }
    before.set(now)
    visit(i, time[i]! - time[start]!, seen)
  }
}

/** A reading averaged over its aperture shows what was half of that ago. */
function centreDelay({ apertureSec, delaySec }: { apertureSec: number; delaySec: number }): number {
  return apertureSec / 2 + delaySec
}

function concat(parts: readonly Float64Array[]): Float64Array<ArrayBuffer> {
  const all = new Float64Array(parts.reduce((sum, part) => sum + part.length, 0))
  let at = 0
  for (const part of parts) {
    all.set(part, at)
    at += part.length
  }
  return all
}
