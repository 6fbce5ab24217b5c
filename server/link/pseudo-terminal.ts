import { closeSync, fstatSync, readdirSync, statSync, writeSync } from 'node:fs'
import { createRequire } from 'node:module'
import type { ReadStream } from 'node:tty'
import { WorkFault } from '../../src/base/faults.ts'
import type { Wire } from './wire.ts'

/** A serial device of our own making: the far end opens `path` as it would open a real port. */
export interface PseudoTerminal extends Wire {
  readonly path: string
}

/** How soon a full pseudo-terminal is tried again, unless the thread has nothing else to do. */
const RETRY_MS = 1

export interface PseudoTerminalOptions {
  /** Tries a full one again at every turn of the thread, which keeps a core busy. */
  readonly eager?: boolean
}

/** The part of node-pty that makes a pair without starting a program; its typings leave it out. */
interface PairMaker {
  open(options: { encoding: null }): {
    master: ReadStream
    slave: ReadStream
    /** Descriptor of the master, non-blocking. */
    fd: number
    ptsName: string
  }
}

/**
 * @throws WorkFault where the system has no pseudo-terminals (Windows) or the optional package
 * node-pty could not be installed; the in-process practice rig works everywhere.
 */
export function openPseudoTerminal({ eager = false }: PseudoTerminalOptions = {}): PseudoTerminal {
  if (process.platform === 'win32') {
    throw new WorkFault("Windows has no pseudo-terminals; use '--port practice' instead")
  }
  const { master, slave, fd, ptsName } = loadPairMaker().open({ encoding: null })
  // A terminal echoes and rewrites line ends until told otherwise.
  slave.setRawMode(true)
  slave.destroy()
  return new Pair(ptsName, master, fd, descriptorsOf(ptsName), eager)
}

function loadPairMaker(): PairMaker {
  try {
    return createRequire(import.meta.url)('node-pty') as PairMaker
  } catch (error) {
    throw new WorkFault(
      "the optional package node-pty is not installed, so there are no pseudo-terminals; run 'npm install node-pty', or use '--port practice'",
      { cause: error },
    )
  }
}

/**
 * node-pty keeps the device side open for good, which is what holds the pair together while no
 * one has the port open; but it does not give the descriptor, so it is found by its device number.
 */
function descriptorsOf(path: string): number[] {
  const device = statSync(path).rdev
  return readdirSync('/dev/fd')
    .map(Number)
    .filter(descriptor => {
      try {
        return fstatSync(descriptor).rdev === device
      } catch {
        return false // the descriptor of the directory listing itself
      }
    })
}

class Pair implements PseudoTerminal {
  readonly path: string
  readonly #master: ReadStream
  readonly #descriptor: number
  readonly #kept: readonly number[]
  #waiting: Uint8Array[] = []
  #backlogBytes = 0
  readonly #eager: boolean
  /** Set while another try is on its way. */
  #retry = false
  #open = true

  constructor(
    path: string,
    master: ReadStream,
    descriptor: number,
    kept: readonly number[],
    eager: boolean,
  ) {
    this.#eager = eager
    this.path = path
    this.#master = master
    this.#descriptor = descriptor
    this.#kept = kept
    // EIO when the device side goes; `close` comes of itself.
    master.on('error', () => {})
  }

  get backlogBytes(): number {
    return this.#backlogBytes
  }

  onBytes(listener: (bytes: Uint8Array) => void): void {
    this.#master.on('data', listener)
  }

  write(bytes: Uint8Array): void {
    if (!this.#open || bytes.length === 0) return
    this.#waiting.push(bytes)
    this.#backlogBytes += bytes.length
    if (!this.#retry) this.#flush()
  }

  close(): void {
    if (!this.#open) return
    this.#open = false
    this.#master.destroy()
    for (const descriptor of this.#kept) closeSync(descriptor)
  }

  /** Past the stream: its writes to a master block the whole thread once the far end stops reading. */
  #flush(): void {
    this.#retry = false
    if (!this.#open) return
    for (let first = this.#waiting[0]; first !== undefined; first = this.#waiting[0]) {
      const taken = this.#writeSome(first)
      this.#backlogBytes -= taken
      if (taken < first.length) {
        this.#waiting[0] = first.subarray(taken)
        this.#retry = true
        if (this.#eager) setImmediate(() => this.#flush())
        else setTimeout(() => this.#flush(), RETRY_MS)
        return
      }
      this.#waiting.shift()
    }
  }

  #writeSome(bytes: Uint8Array): number {
    try {
      return writeSync(this.#descriptor, bytes)
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code === 'EAGAIN') return 0
      throw error
    }
  }
}
