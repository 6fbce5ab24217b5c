import { WorkFault } from '../../src/base/faults.ts'

const AGAIN_MS = 500

/**
 * Small things written to the store from the thread that keeps a rig alive. Where the store does not take
 * one at once (another program writes, the disk is full) that is told, and it is tried again until it does:
 * neither the rig nor the sequence waits for it.
 */
export class PatientWrites {
  readonly #onTrouble: (text: string) => void
  /** By what they are about: of two about the same the later one counts. */
  readonly #waiting = new Map<string, () => void>()
  #timer: NodeJS.Timeout | null = null
  #isTold = false

  constructor(onTrouble: (text: string) => void) {
    this.#onTrouble = onTrouble
  }

  /** Writes at once where that is possible. Throws what is no trouble of the store's. */
  write(about: string, work: () => void): void {
    this.#waiting.set(about, work)
    this.#flush()
  }

  /** Tries what is left once more, and gives it up. */
  end(): void {
    this.#flush()
    if (this.#timer !== null) clearTimeout(this.#timer)
    this.#timer = null
    this.#waiting.clear()
  }

  #flush(): void {
    for (const [about, work] of this.#waiting) {
      try {
        work()
        this.#waiting.delete(about)
      } catch (error) {
        if (!(error instanceof WorkFault)) throw error
        if (!this.#isTold) this.#onTrouble(error.message)
        this.#isTold = true
        this.#timer ??= setTimeout(() => {
          this.#timer = null
          this.#flush()
        }, AGAIN_MS)
        return
      }
    }
    this.#isTold = false
  }
}
