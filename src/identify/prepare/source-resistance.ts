import type { RunSignals } from '../../signals/run-signals.ts'
import type { BridgeSpan } from './bridge-spans.ts'

/** A change from one sample to the next is used where it is so many times its own noise. */
const CLEAR = 10
const FEWEST = 8

/**
 * Resistance of supply, bridge and leads as the motor's terminals see it: by how much the voltage gives
 * way while the current changes between neighbouring samples of one span, −Σ Δv Δi / Σ Δi²; 0 where
 * that cannot be told or the voltage does not give way.
 */
export function sourceResistance(signals: RunSignals, spans: readonly BridgeSpan[]): number {
  const { voltage, current, timeSec } = signals
  if (voltage === null || current === null || timeSec === null) return 0
  const reach = Math.max(
    voltage.traits.apertureSec + voltage.traits.delaySec,
    current.traits.apertureSec + current.traits.delaySec,
  )
  const clear = CLEAR * Math.SQRT2 * current.noise
  let products = 0
  let squares = 0
  let count = 0
  let span = 0
  for (let k = 1; k < timeSec.length; k++) {
    while (span + 1 < spans.length && spans[span + 1]!.startSec < timeSec[k]!) span += 1
    const { terminals, startSec } = spans[span]!
    if (terminals === 'open' || timeSec[k - 1]! - reach <= startSec) continue
    const amp = current.values[k]! - current.values[k - 1]!
    if (!(Math.abs(amp) > clear)) continue
    const volt = voltage.values[k]! - voltage.values[k - 1]!
    if (Number.isNaN(volt)) continue
    products += volt * amp
    squares += amp * amp
    count += 1
  }
  return count < FEWEST ? 0 : Math.max(0, -products / squares)
}
