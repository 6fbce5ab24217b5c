import type { PracticeMotor } from '../records/practice-motor.ts'
import type { Circuit, RotorState } from './rotor.ts'

/** What lies between the terminals of the bench and the winding, as the bench's sensors see it. */
export interface TerminalParts {
  /** The cut-out is open: no current, the source at the terminals. */
  readonly isCut: boolean
  /** Current beside the winding's, and running integrals to be added to the rotor's. */
  readonly amp: number
  readonly ampSec: number
  readonly voltSec: number
  /** Opens the circuit where the cut-out is open at this temperature. */
  cut(circuit: Circuit, rotor: RotorState, windingCelsius: number): void
  /** After a span of an unchanged circuit. */
  pass(circuit: Circuit, voltBefore: number, rotor: RotorState, spanSec: number): void
}

/** At its rated voltage a varistor takes this current. */
const VARISTOR_AMP = 1e-3

/**
 * The supply is taken as stiff against what flows beside the winding: a capacitor takes C Δv at once, a varistor
 * 1 mA (v/V₁)^α. While the bridge is open both only pass current to and fro with the winding, past the sensors:
 * that is left out.
 */
export function createTerminalParts(motor: PracticeMotor): TerminalParts {
  const { across, cutOut } = motor
  let isCut = false
  let amp = 0
  let ampSec = 0
  let voltSec = 0
  return {
    get isCut() {
      return isCut
    },
    get amp() {
      return amp
    },
    get ampSec() {
      return ampSec
    },
    get voltSec() {
      return voltSec
    },
    cut(circuit, rotor, windingCelsius) {
      if (!cutOut) return
      if (windingCelsius >= cutOut.opensCelsius) isCut = true
      if (windingCelsius <= cutOut.closesCelsius) isCut = false
      if (!isCut || circuit.kind !== 'closed') return
      circuit.kind = 'open'
      rotor.currentAmp = 0
    },
    pass(circuit, voltBefore, rotor, spanSec) {
      if (isCut) voltSec += (circuit.volt - rotor.terminalVolt) * spanSec
      amp = 0
      if (!across || circuit.kind !== 'closed') return
      const volt = rotor.terminalVolt
      if (across.varistorVolt > 0) {
        amp =
          VARISTOR_AMP *
          Math.sign(volt) *
          (Math.abs(volt) / across.varistorVolt) ** across.varistorExponent
      }
      ampSec += amp * spanSec + across.capacitorFarad * (volt - voltBefore)
    },
  }
}
