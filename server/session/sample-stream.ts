import { InputFault, WorkFault } from '../../src/base/faults.ts'
import type { ChannelDeclaration } from '../../src/protocol/channel.ts'
import type { RateDeclaration } from '../../src/protocol/declaration.ts'
import type { SampleFormat } from '../../src/protocol/request.ts'
import type { Connection } from './connection.ts'
import { obey, readChannels } from './hello.ts'
import { carriedRates } from './rig-facts.ts'
import { type IntakeSink, SampleIntake } from './sample-intake.ts'

/** Up to here samples come as decimal lines, which can be read in any terminal. */
const FASTEST_DECIMAL_HZ = 500

/** Sampling agreed with the rig: what a sample will hold, as it measures at this rate. */
export interface AgreedSampling {
  readonly periodNs: number
  readonly format: SampleFormat
  readonly channels: readonly ChannelDeclaration[]
}

/** @throws InputFault where the rig does not offer the rate. */
export async function agreeSampling(
  connection: Connection,
  rateHz: number,
): Promise<AgreedSampling> {
  const { talk, declared } = connection
  const rate = chooseRate(declared.rates, rateHz)
  const isSlow = rateHz <= FASTEST_DECIMAL_HZ
  const format = rate.decimal && (isSlow || !rate.block) ? 'decimal' : 'block'
  const channelMask = 2 ** declared.channels.length - 1
  await obey(talk, { verb: 'sampling', periodNs: rate.periodNs, format, channelMask })
  const channels = await readChannels(talk)
  const changed = changedChannel(declared.channels, channels)
  if (changed !== null) {
    throw new WorkFault(
      `the rig at ${talk.link.describe} changed its channels (${changed}); they must not change while it is on`,
    )
  }
  talk.setLayout(channels, null)
  return { periodNs: rate.periodNs, format, channels }
}

/**
 * P-5.3: only aperture and noise may depend on the sample period (a delay that goes with the aperture
 * is let pass). Null where nothing else has changed.
 */
function changedChannel(
  before: readonly ChannelDeclaration[],
  now: readonly ChannelDeclaration[],
): string | null {
  if (before.length !== now.length) return `${before.length} before, ${now.length} now`
  const fixed = ({ apertureSec: _a, delaySec: _d, noise: _n, ...rest }: ChannelDeclaration) =>
    JSON.stringify(rest)
  const at = before.findIndex((channel, k) => fixed(channel) !== fixed(now[k]!))
  return at < 0 ? null : `'${before[at]!.name}'`
}

function chooseRate(rates: readonly RateDeclaration[], rateHz: number): RateDeclaration {
  const carried = carriedRates(rates)
  const found = carried.find(rate => Math.abs((rate.periodNs * rateHz) / 1e9 - 1) < 1e-6)
  if (found) return found
  const offered = carried.map(rate => Number((1e9 / rate.periodNs).toPrecision(9)))
  throw new InputFault(
    `the rig does not sample at ${rateHz} Hz; it offers ${offered.sort((a, b) => a - b).join(', ')} Hz`,
  )
}

/** Starts the samples, into a new intake of the connection. Rejects with a `WorkFault`. */
export async function startStream(
  connection: Connection,
  { channels, periodNs }: AgreedSampling,
  sink: IntakeSink,
): Promise<SampleIntake> {
  const intake = new SampleIntake(channels, periodNs, us => connection.timeUs(us), sink)
  // Samples may be in the same read as the answer, so the intake is there before it is asked for.
  connection.intake = intake
  const { answer } = await connection.talk.ask({ verb: 'stream', on: true })
  if (answer.kind === 'ok') {
    if (answer.sequence !== null) intake.begin(answer.sequence)
    return intake
  }
  // On already: the answer to an earlier attempt was lost, and with it the counter of the first sample.
  if (answer.code === 'not-now') return intake
  connection.intake = null
  throw new WorkFault(`the rig refused to stream: ${answer.code}, ${answer.words}`)
}

/** Ends the samples and counts what is missing at the end. False where the rig did not answer. */
export async function endStream(connection: Connection): Promise<boolean> {
  const { intake, talk } = connection
  try {
    if (connection.ended) return false
    const { answer } = await talk.ask({ verb: 'stream', on: false })
    if (answer.kind === 'ok' && answer.sequence !== null) intake?.end(answer.sequence)
    return answer.kind === 'ok'
  } catch {
    return false
  } finally {
    connection.intake = null
  }
}
