import type { ChannelDeclaration } from '../../src/protocol/channel.ts'
import type {
  Declaration,
  Identity,
  LimitsDeclaration,
  RateDeclaration,
  RigStatus,
} from '../../src/protocol/declaration.ts'
import type { RigEvent } from '../../src/protocol/event.ts'
import type { CheckLine, Exchange, SeenLine } from './check-line.ts'
import type { Judge } from './judge.ts'

/** What the checks work with: the line, the judge, and what the rig has declared so far. */
export interface RigUnderCheck {
  readonly line: CheckLine
  /** Of the present attempt. */
  judge: Judge
  /** Places of lines that came while this computer was too busy to judge by them. */
  readonly doubtful: { readonly from: number; readonly to: number }[]
  /** How long events took to arrive, reckoned from the answer before them. */
  readonly eventDelays: { readonly ms: number; readonly raw: string }[]
  identity: Identity | null
  limits: LimitsDeclaration | null
  channels: readonly ChannelDeclaration[]
  rates: readonly RateDeclaration[]
}

/** One thing to look at: may be repeated, and leaves the rig disarmed and not streaming. */
export type Check = (rig: RigUnderCheck) => Promise<void>

/** Asks, and notes against P-4.4 where no answer comes. */
export async function ask(rig: RigUnderCheck, rest: string): Promise<Exchange | null> {
  const exchange = await rig.line.ask(rest)
  if (exchange === null) rig.judge.broken('P-4.4', `no answer to '${rest}'`, null)
  return exchange
}

/** Asks for something that has to be granted. True where it was. */
export async function granted(rig: RigUnderCheck, rest: string, clause: string): Promise<boolean> {
  const exchange = await ask(rig, rest)
  if (exchange === null) return false
  const { answer } = exchange
  const text = answer.kind === 'error' ? `'${rest}' was refused: ${answer.code}` : ''
  rig.judge.expect(clause, answer.kind === 'ok', text, exchange.line.raw)
  return answer.kind === 'ok'
}

/** Asks for something that has to be refused with one of `codes`. */
export async function refused(
  rig: RigUnderCheck,
  rest: string,
  clause: string,
  ...codes: readonly string[]
): Promise<void> {
  const exchange = await ask(rig, rest)
  if (exchange === null) return
  const { answer } = exchange
  const good = answer.kind === 'error' && codes.includes(answer.code)
  const got = answer.kind === 'error' ? answer.code : 'OK'
  const text = `'${rest}' must be refused with ${codes.join(' or ')}, got ${got}`
  rig.judge.expect(clause, good, text, exchange.line.raw)
  if (answer.kind === 'error') rig.judge.expect('P-12.2', good, text, exchange.line.raw)
}

/** All declarations of one name that came with an answer. */
export function declared<N extends Declaration['name']>(
  exchange: Exchange,
  name: N,
): Extract<Declaration, { name: N }>[] {
  return exchange.declarations.flatMap(({ declaration }) =>
    declaration.name === name ? [declaration as Extract<Declaration, { name: N }>] : [],
  )
}

export async function statusOf(rig: RigUnderCheck): Promise<RigStatus | null> {
  const exchange = await ask(rig, 'status')
  return exchange === null ? null : (declared(exchange, 'status')[0]?.status ?? null)
}

export interface SeenEvent {
  readonly line: SeenLine
  readonly sequence: number
  readonly timeUs: number
  readonly event: RigEvent
}

/** Events among the lines from place `from` on. */
export function eventsFrom(rig: RigUnderCheck, from: number): SeenEvent[] {
  return rig.line.lines.slice(from).flatMap(line => {
    if (line.content.kind !== 'message' || line.content.message.kind !== 'event') return []
    const { sequence, timeUs, event } = line.content.message
    return [{ line, sequence, timeUs, event }]
  })
}

export const isEvent =
  (name: RigEvent['name']) =>
  (line: SeenLine): boolean =>
    line.content.kind === 'message' &&
    line.content.message.kind === 'event' &&
    line.content.message.event.name === name

/** From one 32-bit reading to another, the nearest way (P-6.8). */
export const step32 = (from: number, to: number): number => (to - from) | 0
