import type { BridgeMode } from '../protocol/bridge.ts'
import type { Circuit, RotorLaw, RotorState } from './rotor.ts'
import { TURN_CELLS } from './turn-table.ts'

/** True where time may be leapt over: nothing turns, and the current is settled or soon nil. */
export function stands(rotor: RotorState, hold: RotorLaw['hold'], mode: BridgeMode): boolean {
  return rotor.speed === 0 && (hold === 'locked' || mode === 'coast')
}

const HALVINGS = 30

/** The settled current of a standing rotor for a span: v = (R(θ) + R_c + R_path) i + V_b tanh(i/I_b). */
export function settle(rotor: RotorState, law: RotorLaw, circuit: Circuit, spanSec: number): void {
  const cell = Math.floor((rotor.angle / (2 * Math.PI)) * TURN_CELLS) & (TURN_CELLS - 1)
  const copper = law.copperFactor * law.table[4 * cell + 1]!
  const inner = copper + rotor.contactOhm
  const amp = circuit.kind === 'closed' ? settledAmp(law, circuit, inner) : 0
  const drop = law.dropVolt * Math.tanh(amp / law.kneeAmp)
  const volt = inner * amp + drop
  rotor.currentAmp = amp
  rotor.terminalVolt = volt
  rotor.acceleration = 0
  rotor.voltSec += volt * spanSec
  rotor.ampSec += amp * spanSec
  rotor.amp2Sec += amp * amp * spanSec
  rotor.inputJoule += volt * amp * spanSec
  rotor.copperJoule += copper * amp * amp * spanSec
  rotor.contactJoule += (volt - copper * amp) * amp * spanSec
}

/** By bisection: the voltage rises with the current everywhere. */
function settledAmp(law: RotorLaw, { volt, ohm, limitAmp }: Circuit, inner: number): number {
  const sign = Math.sign(volt)
  let low = 0
  let high = Math.min(limitAmp, Math.abs(volt) / (inner + ohm))
  for (let step = 0; step < HALVINGS; step++) {
    const middle = (low + high) / 2
    const needed = (inner + ohm) * middle + law.dropVolt * Math.tanh(middle / law.kneeAmp)
    if (needed < Math.abs(volt)) low = middle
    else high = middle
  }
  return (sign * (low + high)) / 2
}
