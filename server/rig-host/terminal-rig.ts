import { lstatSync, readlinkSync, rmSync, symlinkSync } from 'node:fs'
import { InputFault } from '../../src/base/faults.ts'
import { printable } from '../../src/base/printable.ts'
import { openPseudoTerminal, type PseudoTerminal } from '../link/pseudo-terminal.ts'
import type { HandAct } from './hand-act.ts'
import { type HandsSocket, openHandsSocket } from './hands-socket.ts'
import { RigHost, type RigHostOptions } from './rig-host.ts'

export interface TerminalRigOptions extends RigHostOptions {
  /** A name that always leads to the pseudo-terminal, also after the plug was out; null for none. */
  readonly linkPath: string | null
}

/**
 * A practice rig in this thread, behind a pseudo-terminal that anyone may open like a serial port.
 * @throws WorkFault where there are no pseudo-terminals, InputFault where the link path is taken.
 */
export class TerminalRig {
  readonly #host: RigHost
  readonly #linkPath: string | null
  #terminal: PseudoTerminal | null = null
  #hands: HandsSocket | null = null

  constructor({ linkPath, ...options }: TerminalRigOptions) {
    if (linkPath !== null) checkLinkPath(linkPath)
    this.#linkPath = linkPath
    this.#host = new RigHost(options)
    this.#plug()
    this.#host.start()
  }

  /** The device to open; null while the plug is out. */
  get path(): string | null {
    return this.#terminal?.path ?? null
  }

  get slippedSec(): number {
    return this.#host.slippedSec
  }

  do(hand: HandAct): void {
    if (hand.act === 'unplug') this.#unplug()
    else if (hand.act === 'plug') this.#plug()
    else this.#host.do(hand)
  }

  close(): void {
    this.#unplug()
    this.#host.stop()
  }

  #plug(): void {
    if (this.#terminal !== null) return
    const terminal = openPseudoTerminal()
    this.#terminal = terminal
    this.#hands = openHandsSocket(terminal.path, hand => this.do(hand))
    this.#host.attach(terminal)
    if (this.#linkPath !== null) {
      rmSync(this.#linkPath, { force: true })
      symlinkSync(terminal.path, this.#linkPath)
    }
  }

  #unplug(): void {
    if (this.#terminal === null) return
    if (this.#linkPath !== null) rmSync(this.#linkPath, { force: true })
    this.#hands?.close()
    this.#host.detach()
    this.#terminal = null
  }
}

/** A link that an earlier practice rig left behind may be replaced; nothing else. */
function checkLinkPath(path: string): void {
  const found = lstatSync(path, { throwIfNoEntry: false })
  if (!found) return
  if (found.isSymbolicLink() && /^\/dev\/(pts\/|tty)/.test(readlinkSync(path))) return
  throw new InputFault(`${printable(path)} exists already; give --link a path that is free`)
}
