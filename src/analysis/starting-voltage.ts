import { findPhases, type Phase } from '../signals/phases.ts'
import type { RunSignals, Signal } from '../signals/run-signals.ts'
import { mean } from '../statistics/describe.ts'

/** Voltage at which a shaft began to turn, in one direction. Magnitude. */
export interface StartingVoltage {
  readonly direction: 1 | -1
  readonly volt: number
  readonly standardUncertainty: number
}

/** A step from further below says only that the shaft starts somewhere in between. */
const CLOSE = 0.5
/** So long a shaft has to stand at a voltage to have stood at it. Common practice, no source. */
const STOOD_SEC = 0.05
const TURNING_NOISES = 6
const TURNING_SHARE = 0.01
/** A shaft that rocks in its cogging comes back; one that turns gets further than this. */
const LEAST_TURN_RAD = 0.5

/**
 * Starting voltages by a stair of voltage from standstill: between the highest step at which the shaft stood
 * and the first at which it turned. Halfway, with the standard uncertainty of a rectangular distribution,
 *   V = (V_stood + V_turned)/2,  u = (V_turned − V_stood)/√12
 * (GUM 4.3.7). Only stairs count whose last standing step is at least half of the first turning one.
 */
export function startingVoltages(signals: RunSignals): StartingVoltage[] {
  const { voltage, speed, timeSec } = signals
  if (!voltage || !speed || !timeSec) return []
  const found = new Map<1 | -1, StartingVoltage>()
  let stood: number | null = null
  for (const phase of findPhases(signals).phases) {
    if (phase.kind === 'coast' || phase.kind === 'brake') {
      stood = null
      continue
    }
    if (phase.kind === 'standstill') continue
    const volt = mean(settledHalf(voltage, phase))
    const angleRad = turnedAngleRad(speed, timeSec, phase)
    const turns = turnsAtEnd(speed, phase)
    if (!turns || Math.abs(angleRad) <= LEAST_TURN_RAD) {
      // A shaft that has only just begun to move, or a moment of a rising voltage, tells nothing.
      const isLong = timeSec[phase.end - 1]! - timeSec[phase.start]! >= STOOD_SEC
      if (!turns && isLong) stood = volt
      continue
    }
    const direction = volt > 0 ? 1 : -1
    const below = stood === null ? 0 : stood / volt
    if (stood !== null && below >= CLOSE && below < 1 && !found.has(direction)) {
      found.set(direction, {
        direction,
        volt: Math.abs(volt + stood) / 2,
        standardUncertainty: Math.abs(volt - stood) / Math.sqrt(12),
      })
    }
    // What is driven faster from here on did not start from standstill.
    stood = null
  }
  return [...found.values()]
}

function settledHalf({ values }: Signal, { start, end }: Phase): Float64Array {
  return values.subarray(Math.floor((start + end) / 2), end).filter(value => !Number.isNaN(value))
}

function turnedAngleRad({ values }: Signal, timeSec: Float64Array, { start, end }: Phase): number {
  let angleRad = 0
  for (let i = start + 1; i < end; i++) {
    const speed = values[i]!
    if (!Number.isNaN(speed)) angleRad += speed * (timeSec[i]! - timeSec[i - 1]!)
  }
  return angleRad
}

function turnsAtEnd({ values, noise, reach }: Signal, { start, end }: Phase): boolean {
  const last = values.subarray(end - Math.max(1, Math.floor((end - start) / 5)), end)
  const atEnd = Math.abs(mean(last.filter(value => !Number.isNaN(value))))
  return atEnd > Math.max((TURNING_NOISES * noise) / Math.sqrt(last.length), TURNING_SHARE * reach)
}
