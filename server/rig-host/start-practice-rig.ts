import { MessageChannel, type Worker } from 'node:worker_threads'
import { WorkFault } from '../../src/base/faults.ts'
import type { Link } from '../link/link.ts'
import { MessageLink } from '../link/message-link.ts'
import { DEFAULT_BAUD, openSerialLink } from '../link/serial-link.ts'
import { spawnWorker } from '../workers/spawn.ts'
import type { HandAct } from './hand-act.ts'
import type { FromRigWorker, RigWorkerData, ToRigWorker } from './practice-rig-worker.ts'

export const PRACTICE_PORT = 'practice'

/** A practice rig in a thread of its own, running in real time until it is closed. */
export interface PracticeRig {
  /** The pseudo-terminal at this moment; null in-process, and while the plug is out. */
  readonly path: string | null
  /** Opens the line to it: the real serial port, or the in-process one. A `LinkOpener`. */
  open(): Promise<Link>
  /** The operator's hands. Resolves when it is done. */
  do(hand: HandAct): Promise<void>
  /** Clamps or releases the shaft, as the guided sequence asks of simulated hands. */
  setShaft(shaft: 'locked' | 'free', angleRad: number | null): Promise<void>
  close(): Promise<void>
}

/** @throws WorkFault where a pseudo-terminal is asked for and there are none. */
export async function startPracticeRig(data: RigWorkerData): Promise<PracticeRig> {
  const rig = new RigThread(data)
  await rig.started
  return rig
}

class RigThread implements PracticeRig {
  path: string | null = null
  readonly started: Promise<void>
  readonly #worker: Worker
  readonly #waiting = new Map<number, { done(): void; fail(error: Error): void }>()
  readonly #inProcess: boolean
  #lastId = 0
  #closing: Promise<void> | null = null
  #ended: Error | null = null

  constructor(data: RigWorkerData) {
    this.#inProcess = data.via === 'in-process'
    this.#worker = spawnWorker('practice-rig-worker', {
      workerData: data,
      // The pseudo-terminal's descriptors come from a native package, not from this thread's fs.
      trackUnmanagedFds: false,
    })
    this.started = this.#answerTo(0)
    this.#worker.on('message', (answer: FromRigWorker) => this.#take(answer))
    this.#worker.on('error', error => this.#fail(error))
    this.#worker.on('exit', () => this.#fail(new WorkFault('the practice rig has ended')))
  }

  async open(): Promise<Link> {
    if (!this.#inProcess) {
      if (this.path === null) throw new WorkFault('the practice rig is unplugged')
      return openSerialLink(this.path, DEFAULT_BAUD)
    }
    const { port1, port2 } = new MessageChannel()
    const link = new MessageLink('practice rig', port1)
    await this.#ask({ type: 'attach', id: this.#nextId(), port: port2 })
    return link
  }

  do(hand: HandAct): Promise<void> {
    return this.#ask({ type: 'hand', id: this.#nextId(), hand })
  }

  setShaft(shaft: 'locked' | 'free', angleRad: number | null): Promise<void> {
    return this.do({
      act: 'shaft',
      shaft: shaft === 'free' ? { hold: 'free' } : { hold: 'locked', angleRad: angleRad ?? 0 },
    })
  }

  close(): Promise<void> {
    this.#closing ??= this.#end()
    return this.#closing
  }

  async #end(): Promise<void> {
    await this.#ask({ type: 'close', id: this.#nextId() }).catch(() => {})
    await this.#worker.terminate()
  }

  #nextId(): number {
    return ++this.#lastId
  }

  #ask(message: ToRigWorker): Promise<void> {
    if (this.#ended) return Promise.reject(this.#ended)
    const answer = this.#answerTo(message.id)
    this.#worker.postMessage(message, message.type === 'attach' ? [message.port] : [])
    return answer
  }

  #answerTo(id: number): Promise<void> {
    // The thread keeps the program alive only while somebody waits for it.
    this.#worker.ref()
    return new Promise((done, fail) => this.#waiting.set(id, { done, fail }))
  }

  #take({ id, path, error }: FromRigWorker): void {
    this.path = path
    const waiting = this.#waiting.get(id)
    this.#waiting.delete(id)
    if (this.#waiting.size === 0) this.#worker.unref()
    if (error) waiting?.fail(new WorkFault(error.message, { cause: error }))
    else waiting?.done()
  }

  #fail(error: Error): void {
    this.#ended = error
    for (const waiting of this.#waiting.values()) waiting.fail(error)
    this.#waiting.clear()
  }
}
