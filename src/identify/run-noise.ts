import type { NoiseLevels } from '../motor/prepared-run.ts'
import type { RunSignals, Signal } from '../signals/run-signals.ts'
import { whiteNoise } from '../statistics/robust.ts'

/** A channel that shows no noise at all still gets this share of its reach. */
const LEAST_SHARE = 1e-6

/**
 * Noise of a run's channels to begin with: what the channel declares, or what its samples scatter
 * by from one to the next, whichever is more; at least the rounding to codes.
 */
export function firstNoise(signals: RunSignals): NoiseLevels {
  const variance = (signal: Signal | null) => {
    if (signal === null) return 0
    const found = whiteNoise(signal.values)
    const least = LEAST_SHARE * (signal.reach || 1)
    return Math.max(signal.noise, found, least) ** 2
  }
  const voltage = variance(signals.voltage)
  return {
    voltage,
    current: variance(signals.current),
    speed: variance(signals.speed),
    openVoltage: voltage,
    loadTorque: variance(signals.torque),
    ripple: 0,
    openRipple: 0,
    resistanceRipple: 0,
    currentFactor: 1,
    speedFactor: 1,
    torque: 0,
    torqueRipple: 0,
  }
}
