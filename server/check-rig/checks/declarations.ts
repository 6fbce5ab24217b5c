import type { ChannelDeclaration } from '../../../src/protocol/channel.ts'
import type { Exchange } from '../check-line.ts'
import type { Judge } from '../judge.ts'
import { ask, declared, granted, type RigUnderCheck } from '../rig-under-check.ts'

/** Channels, rates, limits and status: complete, and consistent with each other (P-5). */
export async function checkDeclarations(rig: RigUnderCheck): Promise<void> {
  await readLimits(rig)
  await readRates(rig)
  await readChannels(rig)
  await readStatus(rig)
}

async function readLimits(rig: RigUnderCheck): Promise<void> {
  const found = await ask(rig, 'limits')
  const limits = found && declared(found, 'limits')[0]?.limits
  if (!found || !limits) return missing(rig.judge, found, 'P-5.7', 'limits')
  rig.limits = limits
  const { raw } = found.declarations[0]!.line
  const complaints = [
    limits.busLowVolt >= limits.busHighVolt && 'bus-low-mv must be below bus-high-mv',
    (limits.stallSec === null) !== (limits.stallRadPerSec === null) &&
      'stall-ms and stall-mrad-s must both be 0 or neither',
    limits.stallSec !== null &&
      limits.speedRadPerSec === null &&
      'a rig that does not measure speed cannot see a stall',
  ]
  for (const complaint of complaints) {
    judgeOne(rig.judge, 'P-5.7', complaint, raw)
  }
}

async function readRates(rig: RigUnderCheck): Promise<void> {
  const found = await ask(rig, 'rates')
  const rates = found ? declared(found, 'rate').map(d => d.rate) : []
  if (!found || rates.length === 0) return missing(rig.judge, found, 'P-5.6', 'rate')
  rig.rates = rates
  const { judge, limits } = rig
  const carried = rates.some(r => r.decimal || r.block)
  judge.expect('P-5.6', carried, 'no period is carried in any format', found.line.raw)
  for (const { declaration, line } of found.declarations) {
    if (declaration.name !== 'rate' || !limits?.burst) continue
    const { periodNs } = declaration.rate
    const good = periodNs % limits.burst.periodNs === 0
    const text = `period ${periodNs} ns is no multiple of the burst's ${limits.burst.periodNs} ns`
    judge.expect('P-5.6', good, text, line.raw)
  }
}

async function readChannels(rig: RigUnderCheck): Promise<void> {
  const found = await ask(rig, 'channels')
  const channels = found ? declared(found, 'channel').map(d => d.channel) : []
  if (!found || channels.length === 0) return missing(rig.judge, found, 'P-5.5', 'channel')
  rig.channels = channels
  checkChannels(rig.judge, channels, found)
  // P-5.3: read again at another period, only aperture and noise may differ.
  const other = [...rig.rates].reverse().find(r => r.block || r.decimal)
  if (!other) return
  const format = other.block ? 'block' : 'decimal'
  const mask = 2 ** channels.length - 1
  const set = `sampling period-ns=${other.periodNs} format=${format} channels=${mask}`
  if (!(await granted(rig, set, 'P-6.1'))) return
  const again = await ask(rig, 'channels')
  if (!again) return
  const lasting = ({ noise: _n, apertureSec: _a, delaySec: _d, ...rest }: ChannelDeclaration) =>
    JSON.stringify(rest)
  const now = declared(again, 'channel').map(d => d.channel)
  rig.judge.expect(
    'P-5.3',
    now.length === channels.length && now.every((c, i) => lasting(c) === lasting(channels[i]!)),
    'more than aperture, delay and noise changed with the sample period',
    again.declarations[0]?.line.raw ?? again.line.raw,
  )
}

export function checkChannels(
  judge: Judge,
  channels: readonly ChannelDeclaration[],
  found: Exchange,
): void {
  channels.forEach((channel, i) => {
    const { raw } = found.declarations[i]!.line
    const { index, name, kind, lowCount, highCount, bits, scale } = channel
    judge.expect('P-5.4', index === i, `index ${index} where ${i} is next`, raw)
    const span = 2 ** bits - 1
    const complaints = [
      (name.length === 0 || name.length > 20) && 'a name has 1 to 20 characters',
      scale === 0 && 'scale must not be 0',
      lowCount >= highCount && 'low must be below high',
      kind === 'modulo' &&
        (lowCount !== 0 || highCount !== span) &&
        `a modulo channel of ${bits} bits runs from 0 to ${span}`,
    ]
    for (const complaint of complaints) judgeOne(judge, 'P-5.5', complaint, raw)
  })
  for (const quantity of ['voltage', 'current'] as const) {
    const count = channels.filter(c => c.quantity === quantity).length
    const text = `${count} channels of ${quantity}; must be exactly one`
    judge.expect('P-5.4', count === 1, text, found.declarations[0]?.line.raw ?? null)
  }
}

async function readStatus(rig: RigUnderCheck): Promise<void> {
  const found = await ask(rig, 'status')
  const status = found && declared(found, 'status')[0]?.status
  if (!found || !status) return missing(rig.judge, found, 'P-5.8', 'status')
  const { raw } = found.declarations[0]!.line
  const complaints = [
    status.bridge !== 'drive' && status.setVolt !== 0 && 'set-mv must be 0 unless driving',
    status.streaming && 'streaming=1 after stream mode=off',
    (status.lastTrip === null) !== (status.trips === 0) && 'trip and trips do not go together',
  ]
  for (const complaint of complaints) judgeOne(rig.judge, 'P-5.8', complaint, raw)
  const idle = !status.armed && status.bridge === 'coast'
  rig.judge.expect('P-8.1', idle, 'after disarm the rig must be disarmed and in coast', raw)
}

/** A complaint, or `false` where there is nothing to complain about. */
function judgeOne(judge: Judge, clause: string, complaint: string | false, raw: string): void {
  judge.expect(clause, complaint === false, complaint === false ? '' : complaint, raw)
}

function missing(judge: Judge, found: Exchange | null, clause: string, name: string): void {
  if (found === null) return // said under P-4.4
  const fault = `no readable line '${name}' came with the answer`
  judge.broken(clause, fault, found.line.raw)
}
