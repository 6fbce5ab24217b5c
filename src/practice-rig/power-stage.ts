import type { BridgeMode } from '../protocol/bridge.ts'
import type { PracticeBench, PracticeSupply } from './bench.ts'
import { findPwmPhase } from './pwm.ts'
import type { Circuit, RotorState } from './rotor.ts'
import { advanceBus } from './supply-bus.ts'

/** Supply, bus and bridge: what stands across the terminals at a moment, and what that does to the bus. */
export interface PowerStage {
  readonly mode: BridgeMode
  readonly setVolt: number
  readonly busVolt: number
  set(mode: BridgeMode, volt: number): void
  /** Fills in `circuit` for the time from now; returns until when it holds. */
  connect(circuit: Circuit, timeSec: number): number
  /** The circuit drew `motorAmp` on average for `spanSec` up to `timeSec`. */
  feed(circuit: Circuit, motorAmp: number, timeSec: number, spanSec: number): void
}

export function createPowerStage(
  bench: PracticeBench,
  supply: PracticeSupply,
  rotor: RotorState,
): PowerStage {
  const { bridge } = bench
  const linear = bridge.kind === 'linear'
  const pwmPeriodSec = 1 / bridge.pwmHz
  const phase = { on: false, untilSec: 0 }
  let mode: BridgeMode = 'coast'
  let setVolt = 0
  let busVolt = supply.openVolt

  const hum = (timeSec: number) =>
    supply.humVolt === 0 ? 0 : supply.humVolt * Math.sin(2 * Math.PI * supply.humHz * timeSec)

  /** Diodes: the current dies against the bus; a back-EMF above it flows into the bus. */
  function freewheel(circuit: Circuit): void {
    const held = busVolt + 2 * bridge.diodeVolt
    const emf = rotor.terminalVolt // without current
    circuit.ohm = 0
    circuit.kind = 'freewheel'
    if (rotor.currentAmp !== 0) circuit.volt = rotor.currentAmp > 0 ? -held : held
    else if (Math.abs(emf) > held) circuit.volt = emf > 0 ? held : -held
    else circuit.kind = 'open'
  }

  return {
    get mode() {
      return mode
    },
    get setVolt() {
      return setVolt
    },
    get busVolt() {
      return busVolt
    },
    set(next, volt) {
      mode = next
      const most = supply.openVolt
      setVolt = next === 'drive' ? Math.min(most, Math.max(-most, volt)) : 0
    },
    connect(circuit, timeSec) {
      circuit.kind = 'closed'
      circuit.volt = 0
      circuit.ohm = bridge.pathOhm
      circuit.limitAmp = Number.POSITIVE_INFINITY
      if (mode === 'coast') {
        freewheel(circuit)
      } else if (mode === 'drive' && linear) {
        circuit.volt = setVolt + hum(timeSec)
        circuit.ohm += supply.resistanceOhm
        circuit.limitAmp = supply.limitAmp
      } else if (mode === 'drive') {
        findPwmPhase(timeSec, pwmPeriodSec, Math.abs(setVolt) / supply.openVolt, phase)
        if (phase.on) circuit.volt = setVolt > 0 ? busVolt : -busVolt
        return phase.untilSec
      }
      return Number.POSITIVE_INFINITY
    },
    feed(circuit, motorAmp, timeSec, spanSec) {
      if (linear) return
      const bridgeAmp = circuit.volt > 0 ? motorAmp : circuit.volt < 0 ? -motorAmp : 0
      busVolt = advanceBus(supply, busVolt, supply.openVolt + hum(timeSec), bridgeAmp, spanSec)
    },
  }
}
