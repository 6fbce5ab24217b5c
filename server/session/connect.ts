import type { LiveEvent } from '../../src/contract/live.ts'
import type { BenchSession, SessionOptions } from './bench-session.ts'
import { Connection } from './connection.ts'
import { Session } from './session.ts'

/**
 * Opens the port, waits out a board that resets, re-synchronises, identifies, and puts the rig at
 * rest. Rejects with an `InputFault` where the port cannot be opened or something else than a rig
 * answers, with a `WorkFault` where the rig stops answering half-way.
 */
export async function connectBench(options: SessionOptions): Promise<BenchSession> {
  const signal = options.signal ?? new AbortController().signal
  const tell = (event: LiveEvent) => options.onEvent?.(event)
  tell({ type: 'link', state: 'connecting', text: 'looking for the rig' })
  const connection = await Connection.open(options.open, signal)
  const session = new Session(options, connection)
  if (options.onEvent) session.listen(options.onEvent)
  session.announce()
  return session
}
