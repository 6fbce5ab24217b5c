import { seededUniform } from '../../src/base/random.ts'
import { type BenchChoices, defaultBench } from '../../src/practice-rig/default-bench.ts'
import {
  createPracticeHardware,
  type PracticeHardware,
} from '../../src/practice-rig/practice-hardware.ts'
import { NO_TROUBLES, NoisyLine } from '../../src/practice-rig/rig-side/noisy-line.ts'
import { Rig } from '../../src/practice-rig/rig-side/rig.ts'
import type { PracticeMotor } from '../../src/records/practice-motor.ts'
import type { Wire } from '../link/wire.ts'
import type { HandAct } from './hand-act.ts'

/** Whatever happens to the rig itself; the plug is in other hands. */
export type RigAct = Exclude<HandAct, { act: 'unplug' | 'plug' }>

export interface RigHostOptions {
  readonly motor: PracticeMotor
  readonly seed: number
  readonly bench?: Partial<BenchChoices>
  /** Time from plugging in or resetting until the rig hears anything, as of a board that boots. */
  readonly bootSec?: number
}

const TICK_MS = 4
/** Of what waits on the wire the rig is told only this much: beyond, its own buffer fills and it counts. */
const WIRE_ROOM_BYTES = 16_384
/**
 * A rig does not stand still when the computer that simulates it does; but after a pause longer than
 * this its time slips, rather than letting it live through a second in which it heard nothing.
 */
const LONGEST_CATCH_UP_SEC = 0.1
/** Behind by more, what has arrived is taken first: it came some time within the delay. */
const LATE_SEC = 0.02

/**
 * Runs a practice rig in real time at the end of a wire. The rig's clock follows the computer's
 * without drift; bytes are handed on as they come, so that answers do not wait for the next tick.
 */
export class RigHost {
  readonly #options: RigHostOptions
  readonly #hardware: PracticeHardware
  #line: NoisyLine
  #wire: Wire | null = null
  #timer: NodeJS.Timeout | null = null
  #epochMs = 0
  #slippedSec = 0

  constructor(options: RigHostOptions) {
    const { motor, seed, bench } = options
    this.#options = options
    this.#hardware = createPracticeHardware(motor, defaultBench(motor, bench), seed)
    this.#line = this.#switchOn('power')
  }

  /** By how much the rig's clock fell behind because the computer was too busy. */
  get slippedSec(): number {
    return this.#slippedSec
  }

  /** Plugs the rig into a wire, in place of the one before. */
  attach(wire: Wire): void {
    this.detach()
    wire.onBytes(bytes => {
      if (wire === this.#wire) this.#hear(bytes)
    })
    this.#wire = wire
  }

  detach(): void {
    this.#wire?.close()
    this.#wire = null
  }

  start(): void {
    this.#epochMs = performance.now() - this.#hardware.timeSec * 1000
    this.#timer = setInterval(() => setImmediate(() => this.#live()), TICK_MS)
  }

  stop(): void {
    if (this.#timer !== null) clearInterval(this.#timer)
    this.#timer = null
    this.detach()
  }

  do(hand: RigAct): void {
    this.#live()
    switch (hand.act) {
      case 'shaft':
        this.#hardware.plant.setShaft(hand.shaft)
        return
      case 'load':
        this.#hardware.plant.setLoad(hand.inertiaKgM2, hand.torqueNm)
        return
      case 'warm':
        this.#hardware.plant.setTemperatures(hand.windingCelsius, hand.housingCelsius)
        return
      case 'mute':
        this.#line.plugged = !hand.on
        return
      case 'stall':
        this.#line.stall(hand.forSec)
        return
      case 'troubles':
        this.#line.setTroubles({ ...NO_TROUBLES, ...hand.troubles })
        return
      case 'reset':
        this.#line = this.#switchOn('reset')
        return
      default:
        hand satisfies never
    }
  }

  #switchOn(bootCause: 'power' | 'reset'): NoisyLine {
    this.#hardware.setBridge('coast', 0)
    const rig = new Rig(this.#hardware, { bootCause, bootSec: this.#options.bootSec ?? 0 })
    return new NoisyLine(rig, seededUniform(this.#options.seed * 97 + 5))
  }

  #hear(bytes: Uint8Array): void {
    if (this.#behindSec() < LATE_SEC) this.#live()
    this.#line.receive(bytes)
    this.#live()
  }

  #behindSec(): number {
    return (performance.now() - this.#epochMs) / 1000 - this.#hardware.timeSec
  }

  #live(): void {
    const excess = this.#behindSec() - LONGEST_CATCH_UP_SEC
    if (excess > 0) {
      this.#epochMs += excess * 1000
      this.#slippedSec += excess
    }
    this.#line.advance((performance.now() - this.#epochMs) / 1000)
    const room = this.#wire === null ? WIRE_ROOM_BYTES : WIRE_ROOM_BYTES - this.#wire.backlogBytes
    if (room > 0) this.#wire?.write(this.#line.take(room))
  }
}
