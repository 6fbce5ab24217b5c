import type { RunSignals } from '../../signals/run-signals.ts'
import type { BridgeSpan } from './bridge-spans.ts'

/** Of its fastest, from which on a shaft turns fast enough that its terminals must show a voltage. */
const FAST = 0.2
/** Of what the fastest sample suggests: less is nil. */
const NIL = 0.02
/** With less of the fast samples reading something, the channel does not see the open terminals. */
const SEES = 0.25

/**
 * Whether the voltage channel reads the terminals while they are open. Where it is the duty times the supply, or
 * measured before the bridge, it reads nil there at any speed, which is no reading.
 */
export function readsOpenTerminals(signals: RunSignals, spans: readonly BridgeSpan[]): boolean {
  const { voltage, speed, timeSec } = signals
  if (!voltage || !speed || !timeSec) return true
  const nil = Math.max(NIL * voltage.reach, 4 * voltage.noise)
  let fast = 0
  let read = 0
  let span = 0
  for (let i = 0; i < signals.count; i++) {
    while (span + 1 < spans.length && spans[span + 1]!.startSec <= timeSec[i]!) span++
    if (spans[span]!.terminals !== 'open') continue
    if (!(Math.abs(speed.values[i]!) > FAST * speed.reach)) continue
    fast++
    if (Math.abs(voltage.values[i]!) > nil) read++
  }
  return fast === 0 || read > SEES * fast
}
