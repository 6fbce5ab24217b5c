import { type MessagePort, parentPort, workerData } from 'node:worker_threads'
import { MessageWire } from '../link/message-link.ts'
import type { HandAct } from './hand-act.ts'
import { RigHost } from './rig-host.ts'
import { TerminalRig, type TerminalRigOptions } from './terminal-rig.ts'

/** What the thread that started it asks of a practice rig. */
export type ToRigWorker =
  | { readonly type: 'hand'; readonly id: number; readonly hand: HandAct }
  /** A line for the host; only where there is no pseudo-terminal. */
  | { readonly type: 'attach'; readonly id: number; readonly port: MessagePort }
  | { readonly type: 'close'; readonly id: number }

/** Answers, one each; `path` is that of the pseudo-terminal, null for none. */
export interface FromRigWorker {
  readonly id: number
  readonly path: string | null
  readonly error: Error | null
}

export interface RigWorkerData extends TerminalRigOptions {
  readonly via: 'pseudo-terminal' | 'in-process'
}

const port = parentPort!
const data: RigWorkerData = workerData

/** A practice rig plugged into a port of the thread that started it. */
class ThreadRig {
  readonly path = null
  readonly #host = new RigHost(data)
  #plugged = true

  constructor() {
    this.#host.start()
  }

  attach(line: MessagePort): void {
    if (this.#plugged) this.#host.attach(new MessageWire(line))
    else line.close()
  }

  do(hand: HandAct): void {
    if (hand.act === 'plug') this.#plugged = true
    else if (hand.act === 'unplug') {
      this.#plugged = false
      this.#host.detach()
    } else this.#host.do(hand)
  }

  close(): void {
    this.#host.stop()
  }
}

function carryOut(rig: ThreadRig | TerminalRig, message: ToRigWorker): void {
  switch (message.type) {
    case 'hand':
      rig.do(message.hand)
      return
    case 'attach':
      if (rig instanceof ThreadRig) rig.attach(message.port)
      return
    case 'close':
      rig.close()
      return
    default:
      message satisfies never
  }
}

function answer(id: number, path: string | null, error: Error | null = null): void {
  port.postMessage({ id, path, error } satisfies FromRigWorker)
}

try {
  const rig = data.via === 'in-process' ? new ThreadRig() : new TerminalRig(data)
  port.on('message', (message: ToRigWorker) => {
    try {
      carryOut(rig, message)
      answer(message.id, rig.path)
    } catch (error) {
      answer(message.id, rig.path, error as Error)
    }
    if (message.type === 'close') port.close()
  })
  answer(0, rig.path)
} catch (error) {
  answer(0, null, error as Error)
  port.close()
}
