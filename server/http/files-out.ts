import { once } from 'node:events'
import type { Response } from 'express'
import type { HttpDeps } from './deps.ts'

const SAMPLES_A_PIECE = 50_000

/** Every sample of a run as CSV, piece by piece as fast as the client takes them. */
export async function sendRecording(
  deps: HttpDeps,
  run: number,
  response: Response,
): Promise<undefined> {
  let from = 0
  for (;;) {
    const piece = await deps.ask('recordingText', { run, from, to: from + SAMPLES_A_PIECE })
    if (from === 0) response.attachment(piece.fileName).type('text/csv')
    if (!response.write(piece.text))
      await Promise.race([once(response, 'drain'), once(response, 'close')])
    from += SAMPLES_A_PIECE
    if (piece.isLast || response.destroyed) break
  }
  response.end()
}
