import { findPhases, type Phase } from '../signals/phases.ts'
import type { RunSignals } from '../signals/run-signals.ts'
import { type SteadyLevel, steadyLevels } from '../signals/steady-levels.ts'
import { slipsIn } from './slip.ts'

/** One steady level with the rotor held. */
export interface StallPoint {
  readonly level: SteadyLevel
  readonly voltage: number
  readonly voltageSigma: number
  readonly current: number
  readonly currentSigma: number
  /** Electrical energy put in from the start of the run to the middle of the level, joules. */
  readonly energyJoule: number
}

export interface StallPoints {
  readonly points: readonly StallPoint[]
  /** Levels left out because the shaft moved. */
  readonly slipped: number
}

/** A held shaft moves at most this share of the speed that the voltage would give it, as the slip guard sees it. */
const SLIP_NOISES = 6

/**
 * The driven levels of a locked-rotor run whose shaft stood still. A current that had not quite settled is
 * allowed for by L di/dt with an inductance from a first pass.
 */
export function stallPoints(signals: RunSignals, inductanceHenry: number): StallPoints {
  const energy = energyCourse(signals)
  const levels = steadyLevels(signals).filter(
    level =>
      level.kind !== 'standstill' && level.voltage && level.current && isDriven(level, signals),
  )
  const gaveWay = slippedPulses(signals)
  const held = levels.filter(
    level =>
      !moves(level, signals) &&
      !gaveWay.some(({ start, end }) => level.start >= start && level.end <= end),
  )
  return {
    slipped: Math.max(levels.length - held.length, gaveWay.length),
    points: held.map(level => ({
      level,
      voltage: level.voltage!.value - inductanceHenry * level.current!.slopePerSec,
      voltageSigma: level.voltage!.standardUncertainty,
      current: level.current!.value,
      currentSigma: level.current!.standardUncertainty,
      energyJoule: energy ? energy[Math.floor((level.start + level.end - 1) / 2)]! : 0,
    })),
  }
}

/** Pulses in which the current tells that the rotor gave way, where no speed channel does. */
export function slippedPulses(signals: RunSignals): Phase[] {
  if (signals.speed) return []
  return findPhases(signals).phases.filter(
    phase => phase.kind === 'drive' && slipsIn(signals, phase),
  )
}

function isDriven(level: SteadyLevel, { current }: RunSignals): boolean {
  const amp = Math.abs(level.current!.value)
  return amp > Math.max(5 * level.current!.standardUncertainty, 0.005 * current!.reach)
}

function moves(level: SteadyLevel, { speed }: RunSignals): boolean {
  if (!level.speed || !speed) return false
  return Math.abs(level.speed.value) > Math.max(SLIP_NOISES * speed.noise, 0.5)
}

/** ∫ v i dt by the trapezoid rule; null for a table, whose readings carry no time. */
function energyCourse({ timeSec, voltage, current, count }: RunSignals): Float64Array | null {
  if (!timeSec || !voltage || !current) return null
  const energy = new Float64Array(count)
  for (let i = 1; i < count; i++) {
    const before = voltage.values[i - 1]! * current.values[i - 1]!
    const after = voltage.values[i]! * current.values[i]!
    const step = ((before + after) / 2) * (timeSec[i]! - timeSec[i - 1]!)
    energy[i] = energy[i - 1]! + (Number.isFinite(step) ? step : 0)
  }
  return energy
}
