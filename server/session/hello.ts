import { InputFault, WorkFault } from '../../src/base/faults.ts'
import type { Declaration } from '../../src/protocol/declaration.ts'
import { printableBytes } from '../../src/protocol/printable.ts'
import type { Request } from '../../src/protocol/request.ts'
import { WIRE } from '../../src/protocol/wire.ts'
import { carriedRates, type RigDeclarations } from './rig-facts.ts'
import { AnswerMissing, type RigTalk, USUAL_ASKING } from './rig-talk.ts'

/** Boards take a while to reset when their port is opened, and print what they like while they do. */
const IDENTIFY = {
  patienceMs: WIRE.identifyEveryMs,
  attempts: WIRE.identifyForMs / WIRE.identifyEveryMs,
}

/**
 * Finds the rig at the other end (P-10.2): ends what it may hold of a line, asks who it is until
 * it answers, puts it at rest, and reads everything it declares.
 * @throws InputFault where something else than a rig that this program knows speaks there.
 */
export async function sayHello(talk: RigTalk): Promise<RigDeclarations> {
  await talk.sendLineFeed()
  const identity = only(await identify(talk), 'identity').identity
  if (identity.protocolVersion !== WIRE.protocolVersion) {
    throw new InputFault(
      `the rig at ${talk.link.describe} speaks protocol version ${identity.protocolVersion}; this program speaks version ${WIRE.protocolVersion}`,
    )
  }
  await obey(talk, { verb: 'disarm' })
  await obey(talk, { verb: 'stream', on: false })
  const declared = {
    identity,
    channels: await readChannels(talk),
    rates: (await declarations(talk, 'rates')).flatMap(d => (d.name === 'rate' ? [d.rate] : [])),
    limits: only(await declarations(talk, 'limits'), 'limits').limits,
    status: only(await declarations(talk, 'status'), 'status').status,
  }
  const problem = contradiction(declared)
  if (problem) throw new InputFault(`the rig at ${talk.link.describe} ${problem}`)
  return declared
}

/** The channels as they measure at the sample period in force (P-5.3). */
export async function readChannels(
  talk: RigTalk,
  verb: 'channels' | 'burst-channels' = 'channels',
): Promise<RigDeclarations['channels']> {
  const declared = await declarations(talk, verb)
  return declared
    .flatMap(d => (d.name === 'channel' ? [d.channel] : []))
    .sort((a, b) => a.index - b.index)
}

export async function readStatus(talk: RigTalk): Promise<RigDeclarations['status']> {
  return only(await declarations(talk, 'status'), 'status').status
}

/** Asks for something that a healthy rig does not refuse; a `WorkFault` says what it was otherwise. */
export async function obey(talk: RigTalk, request: Request): Promise<void> {
  const { answer } = await talk.ask(request)
  if (answer.kind === 'error') {
    throw new WorkFault(
      `the rig at ${talk.link.describe} refused '${request.verb}': ${answer.code}, ${answer.words}`,
    )
  }
}

async function identify(talk: RigTalk): Promise<readonly Declaration[]> {
  try {
    return (await talk.ask({ verb: 'identify' }, IDENTIFY)).declarations
  } catch (error) {
    if (error instanceof AnswerMissing) throw new InputFault(strangerText(talk), { cause: error })
    throw error
  }
}

async function declarations(
  talk: RigTalk,
  verb: 'channels' | 'burst-channels' | 'rates' | 'limits' | 'status',
): Promise<readonly Declaration[]> {
  const reply = await talk.ask({ verb }, USUAL_ASKING)
  if (reply.answer.kind === 'ok') return reply.declarations
  throw new WorkFault(
    `the rig at ${talk.link.describe} refused '${verb}': ${reply.answer.code}, ${reply.answer.words}`,
  )
}

function only<N extends Declaration['name']>(
  declared: readonly Declaration[],
  name: N,
): Extract<Declaration, { name: N }> {
  const [first] = declared.filter(d => d.name === name)
  if (first) return first as Extract<Declaration, { name: N }>
  throw new InputFault(`the rig did not declare its ${name}; a rig sends one such line`)
}

/** What a rig must not declare (P-5.4, P-5.6, P-13.1); null when nothing is wrong. */
function contradiction({ channels, rates }: Omit<RigDeclarations, 'status'>): string | null {
  for (const quantity of ['voltage', 'current'] as const) {
    const count = channels.filter(channel => channel.quantity === quantity).length
    if (count !== 1) return `declares ${count} channels of ${quantity}; it must have exactly one`
  }
  if (channels.some((channel, at) => channel.index !== at)) {
    return 'does not number its channels 0, 1, 2 and so on'
  }
  if (carriedRates(rates).length === 0) {
    return 'declares no sample rate that its line can carry'
  }
  return null
}

function strangerText(talk: RigTalk): string {
  const { counters, openingBytes } = talk
  const where = talk.link.describe
  const waited = `within ${WIRE.identifyForMs / 1000} s`
  if (counters.bytes === 0) {
    return `nothing answered at ${where} ${waited}; check power, cable and baud rate, and that this is the rig's port`
  }
  const seen = `'${printableBytes(openingBytes, 0, openingBytes.length, 60)}'`
  if (counters.accepted > 0) {
    return `a rig sends at ${where} but did not say who it is ${waited}; switch it off and on`
  }
  if (/^[\d\s.,;eE+-]+$/.test(Buffer.from(openingBytes).toString('latin1'))) {
    return `what sends at ${where} prints numbers only (${seen}) and takes no requests; it can be logged with 'rotorfit log --plain', not driven`
  }
  return `what sends at ${where} is not a rig, or the baud rate is wrong: seen was ${seen}`
}
