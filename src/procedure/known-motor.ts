import { coldWinding, type WindingHeat } from './heat.ts'
import { edgeCurrentAmp } from './limits.ts'
import {
  LEAST_RESISTANCE_SHARE,
  plannableAmp,
  type StallLine,
  type StallPoint,
} from './stall-line.ts'

/** What the tests so far say of the motor, for planning the next one. SI; null before it is known. */
export interface KnownMotor {
  readonly stallPoints: readonly StallPoint[]
  /** Through those points; null before a current was seen. */
  readonly line: StallLine | null
  /** Time to 63 % of a step of current, of speed. */
  readonly electricalSec: number | null
  readonly mechanicalSec: number | null
  /** Lowest voltage that was seen to turn the free shaft. */
  readonly breakAwayVolt: number | null
  /** The current at which it did. */
  readonly breakAwayAmp: number | null
  /** Steady turns of the free shaft, rising voltage. */
  readonly turns: readonly SteadyTurn[]
  readonly heat: WindingHeat
}

/** Magnitudes. */
export interface SteadyTurn {
  readonly volt: number
  readonly amp: number
  readonly radPerSec: number
}

export function unknownMotor(nowSec: number): KnownMotor {
  return {
    stallPoints: [],
    line: null,
    electricalSec: null,
    mechanicalSec: null,
    breakAwayVolt: null,
    breakAwayAmp: null,
    turns: [],
    heat: coldWinding(nowSec),
  }
}

/** The most that can flow at standstill; null before the resistance is known. */
export function mostStallAmp(known: KnownMotor, setVolt: number): number | null {
  const { line } = known
  if (!line) return null
  const ohmicVolt = Math.max(0, Math.abs(setVolt) - line.brushVolt)
  return ohmicVolt / (LEAST_RESISTANCE_SHARE * line.resistanceOhm)
}

/**
 * The voltage at which at most `amp` flows at standstill, and not far beyond what was tried; null
 * before the resistance is known.
 */
export function stallVolt(known: KnownMotor, amp: number): number | null {
  const { line } = known
  if (!line) return null
  const least = LEAST_RESISTANCE_SHARE * line.resistanceOhm
  return line.brushVolt + least * Math.min(amp, plannableAmp(line) / LEAST_RESISTANCE_SHARE)
}

/**
 * The most that can flow when the voltage steps to `setVolt` while the shaft makes `backEmfVolt`;
 * null before the resistance is known. The brush drop counts only from standstill, where it was seen.
 */
export function mostStepAmp(
  known: KnownMotor,
  setVolt: number,
  backEmfVolt: number,
): number | null {
  if (backEmfVolt === 0) return mostStallAmp(known, setVolt)
  const { line } = known
  return line && edgeCurrentAmp(setVolt, backEmfVolt, LEAST_RESISTANCE_SHARE * line.resistanceOhm)
}

/** k = (v − R i − V_b)/ω of a steady turn; null where the drops leave nothing. */
export function backEmfConstant(turn: SteadyTurn, line: StallLine): number | null {
  const k = (turn.volt - line.resistanceOhm * turn.amp - line.brushVolt) / turn.radPerSec
  return k > 0 ? k : null
}

/** Two turns tell k where their voltages differ by this factor. */
const TELLING_RATIO = 1.25

/**
 * k from two turns at different voltages, in which the drop of the brushes cancels:
 *   k = (Δv − R Δi)/Δω
 * Null before there are two that differ enough.
 */
export function knownBackEmf({ turns, line }: KnownMotor): number | null {
  const fast = turns.at(-1)
  const slow = turns.findLast(turn => fast && turn.volt * TELLING_RATIO <= fast.volt)
  if (!fast || !slow || !line || !(fast.radPerSec > slow.radPerSec)) return null
  const ohmicVolt = line.resistanceOhm * (fast.amp - slow.amp)
  const k = (fast.volt - slow.volt - ohmicVolt) / (fast.radPerSec - slow.radPerSec)
  return k > 0 ? k : null
}

/** The voltage at which the free shaft reaches a speed; null before k is known. */
export function freeVolt(known: KnownMotor, radPerSec: number): number | null {
  const fast = known.turns.at(-1)
  const k = knownBackEmf(known)
  return fast && k !== null ? fast.volt + k * (radPerSec - fast.radPerSec) : null
}
