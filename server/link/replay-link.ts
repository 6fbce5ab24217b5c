import { open } from 'node:fs/promises'
import { LinkLost } from './faults.ts'
import type { Link } from './link.ts'

const PIECE_BYTES = 4096

/**
 * Bytes that a rig once sent, played back as fast as they are read. What is sent to it goes
 * nowhere but `sent`. The end of the recording is a lost link, as it is when a cable is pulled.
 */
export interface ReplayLink extends Link {
  readonly sent: readonly Uint8Array[]
}

export function replayBytes(recorded: Uint8Array, pieceBytes = PIECE_BYTES): ReplayLink {
  return new Replay('recorded bytes', async function* () {
    for (let at = 0; at < recorded.length; at += pieceBytes) {
      yield recorded.subarray(at, at + pieceBytes)
    }
  })
}

export function replayFile(path: string, pieceBytes = PIECE_BYTES): ReplayLink {
  return new Replay(path, async function* () {
    const file = await open(path)
    try {
      for (;;) {
        const piece = new Uint8Array(pieceBytes)
        const { bytesRead } = await file.read(piece, 0, pieceBytes)
        if (bytesRead === 0) return
        yield piece.subarray(0, bytesRead)
      }
    } finally {
      await file.close()
    }
  })
}

class Replay implements ReplayLink {
  readonly describe: string
  readonly sent: Uint8Array[] = []
  readonly #pieces: AsyncGenerator<Uint8Array, void, undefined>
  #closed = false

  constructor(describe: string, pieces: () => AsyncGenerator<Uint8Array, void, undefined>) {
    this.describe = describe
    this.#pieces = pieces()
  }

  async *bytes(signal: AbortSignal): AsyncGenerator<Uint8Array, void, undefined> {
    while (!signal.aborted && !this.#closed) {
      const piece = await this.#pieces.next()
      if (piece.done) throw new LinkLost(`the recording ${this.describe} ends here`)
      yield piece.value
    }
  }

  async send(bytes: Uint8Array): Promise<void> {
    if (this.#closed) throw new LinkLost(`${this.describe} is closed`)
    this.sent.push(bytes)
  }

  async close(): Promise<void> {
    this.#closed = true
    await this.#pieces.return()
  }
}
