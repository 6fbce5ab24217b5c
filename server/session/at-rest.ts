import { WorkFault } from '../../src/base/faults.ts'
import type { LiveEvent } from '../../src/contract/live.ts'
import type { ChannelReading } from './bench-session.ts'
import type { Connection } from './connection.ts'
import { Envelopes } from './envelopes.ts'
import { pauseUntil } from './pause.ts'
import { RestReading } from './rest-reading.ts'
import { agreeSampling, endStream, startStream } from './sample-stream.ts'
import type { Tally } from './tally.ts'

/** Streams to whoever looks on; nothing is stored, nothing driven. Goes on until the stream is ended. */
export async function startMonitor(
  connection: Connection,
  rateHz: number,
  tally: Tally,
  emit: (event: LiveEvent) => void,
): Promise<void> {
  const sampling = await agreeSampling(connection, rateHz)
  const quantities = sampling.channels.map(channel => channel.quantity)
  const envelopes = new Envelopes(quantities, envelope =>
    emit({ type: 'envelope', runId: null, ...envelope }),
  )
  const sink = tally.counting({
    seen: ({ timeSec, columns, count }) => envelopes.add(timeSec, columns, count),
  })
  await startStream(connection, sampling, sink)
}

/** Mean and scatter of every channel over a time. @throws WorkFault where nothing came. */
export async function measureAtRest(
  connection: Connection,
  durationSec: number,
  rateHz: number,
  tally: Tally,
): Promise<readonly ChannelReading[]> {
  const sampling = await agreeSampling(connection, rateHz)
  const reading = new RestReading(sampling.channels.length)
  const sink = tally.counting({ chunk: chunk => reading.add(chunk) })
  await startStream(connection, sampling, sink)
  await pauseUntil(durationSec * 1000, connection.gone)
  await endStream(connection)
  if (reading.samples === 0) {
    throw new WorkFault(`no samples came from ${connection.talk.link.describe}`)
  }
  return reading.readings(sampling.channels)
}
