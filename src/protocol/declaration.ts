import { type Result, success } from '../base/result.ts'
import { BRIDGE_MODES, type BridgeMode, TRIP_CAUSES, type TripCause } from './bridge.ts'
import { type ChannelDeclaration, decimalText, readChannel, writeChannel } from './channel.ts'
import { type Fields, field, quotedField } from './fields.ts'
import type { LineFault } from './line-fault.ts'

/** What a rig says about itself before the answer to a request (P-5). */
export type Declaration =
  | { readonly name: 'identity'; readonly identity: Identity }
  | { readonly name: 'channel'; readonly channel: ChannelDeclaration }
  | { readonly name: 'rate'; readonly rate: RateDeclaration }
  | { readonly name: 'limits'; readonly limits: LimitsDeclaration }
  | { readonly name: 'status'; readonly status: RigStatus }

export const DECLARATION_NAMES = ['identity', 'channel', 'rate', 'limits', 'status'] as const

export interface Identity {
  readonly protocolVersion: number
  readonly model: string
  readonly serialNumber: string
  readonly firmware: string
  readonly simulated: boolean
  /** Signalling rate of the line; 0 where the link has none (USB). */
  readonly baud: number
  /** Relative standard uncertainty of the rig's clock. */
  readonly clockUncertainty: number
}

export interface RateDeclaration {
  readonly periodNs: number
  /** Whether this link sustains all channels at this period in the format. */
  readonly decimal: boolean
  readonly block: boolean
}

/** Limits that the rig enforces by itself. Null where the rig does not have or enforce one. */
export interface LimitsDeclaration {
  readonly driveVolt: number
  readonly currentAmp: number
  readonly busLowVolt: number
  readonly busHighVolt: number
  readonly speedRadPerSec: number | null
  /** Driven, slower than `stallRadPerSec`, for this long. */
  readonly stallSec: number | null
  readonly stallRadPerSec: number | null
  readonly longestDriveSec: number
  readonly watchdogSec: number
  /** From the excess to the open bridge: over the rig's own limit, over a command's. */
  readonly currentTripSec: number
  readonly commandTripSec: number
  readonly reversible: boolean
  /** Null for a linear output. */
  readonly pwmHz: number | null
  /** Null where the rig has no burst memory. */
  readonly burst: { readonly periodNs: number; readonly samples: number } | null
}

export interface RigStatus {
  readonly armed: boolean
  readonly bridge: BridgeMode
  readonly setVolt: number
  readonly streaming: boolean
  readonly busVolt: number
  /** Since the rig started; both stop at their highest value instead of wrapping. */
  readonly trips: number
  readonly badLines: number
  /** The last trip; null where there was none. */
  readonly lastTrip: TripCause | null
  readonly lastTripTimeUs: number
  /** Of the bridge; null where not measured. */
  readonly boardCelsius: number | null
}

const U32 = 4_294_967_295
const milli = (fields: Fields, key: string, low: number, high: number) =>
  fields.integer(key, low, high) / 1000
const milliOrNone = (fields: Fields, key: string) => milli(fields, key, 0, 1e9) || null

export function readDeclaration(
  name: Declaration['name'],
  fields: Fields,
): Result<Declaration, LineFault> {
  switch (name) {
    case 'identity':
      return fields.finish({ name, identity: readIdentity(fields) })
    case 'channel': {
      const channel = readChannel(fields)
      return channel.ok ? success({ name, channel: channel.value }) : channel
    }
    case 'rate':
      return fields.finish({ name, rate: readRate(fields) })
    case 'limits':
      return fields.finish({ name, limits: readLimits(fields) })
    case 'status':
      return fields.finish({ name, status: readStatus(fields) })
    default:
      return name satisfies never
  }
}

export function writeDeclaration(declaration: Declaration): string {
  switch (declaration.name) {
    case 'identity':
      return `identity ${writeIdentity(declaration.identity)}`
    case 'channel':
      return `channel ${writeChannel(declaration.channel)}`
    case 'rate': {
      const { periodNs, decimal, block } = declaration.rate
      return `rate period-ns=${periodNs} ${field('decimal', decimal)} ${field('block', block)}`
    }
    case 'limits':
      return `limits ${writeLimits(declaration.limits)}`
    case 'status':
      return `status ${writeStatus(declaration.status)}`
    default:
      return declaration satisfies never
  }
}

function readIdentity(fields: Fields): Identity {
  return {
    protocolVersion: fields.integer('protocol', 1, 255),
    model: fields.text('model'),
    serialNumber: fields.text('serial'),
    firmware: fields.text('firmware'),
    simulated: fields.flag('simulated'),
    baud: fields.integer('baud', 0, 100_000_000),
    clockUncertainty: fields.decimal('clock-ppm', 0, 1e6) / 1e6,
  }
}

function writeIdentity(identity: Identity): string {
  return [
    field('protocol', identity.protocolVersion),
    quotedField('model', identity.model),
    quotedField('serial', identity.serialNumber),
    quotedField('firmware', identity.firmware),
    field('simulated', identity.simulated),
    field('baud', identity.baud),
    field('clock-ppm', decimalText(identity.clockUncertainty * 1e6)),
  ].join(' ')
}

function readRate(fields: Fields): RateDeclaration {
  return {
    periodNs: fields.integer('period-ns', 1000, U32),
    decimal: fields.flag('decimal'),
    block: fields.flag('block'),
  }
}

function readLimits(fields: Fields): LimitsDeclaration {
  const burstSamples = fields.integer('burst-samples', 0, 1e6)
  const burstPeriodNs = fields.integer('burst-period-ns', burstSamples > 0 ? 1000 : 0, U32)
  return {
    driveVolt: milli(fields, 'voltage-mv', 1, 1e6),
    currentAmp: milli(fields, 'current-ma', 1, 1e6),
    busLowVolt: milli(fields, 'bus-low-mv', 0, 1e6),
    busHighVolt: milli(fields, 'bus-high-mv', 1, 1e6),
    speedRadPerSec: milliOrNone(fields, 'speed-mrad-s'),
    stallSec: milliOrNone(fields, 'stall-ms'),
    stallRadPerSec: milliOrNone(fields, 'stall-mrad-s'),
    longestDriveSec: milli(fields, 'duration-ms', 1, 600_000),
    watchdogSec: milli(fields, 'watchdog-ms', 1, 300),
    currentTripSec: fields.integer('current-trip-us', 0, 50) / 1e6,
    commandTripSec: fields.integer('command-trip-us', 0, 1000) / 1e6,
    reversible: fields.flag('reverse'),
    pwmHz: fields.integer('pwm-hz', 0, 10_000_000) || null,
    burst: burstSamples > 0 ? { periodNs: burstPeriodNs, samples: burstSamples } : null,
  }
}

const toMilli = (value: number | null) => Math.round((value ?? 0) * 1000)

function writeLimits(limits: LimitsDeclaration): string {
  return [
    field('voltage-mv', toMilli(limits.driveVolt)),
    field('current-ma', toMilli(limits.currentAmp)),
    field('bus-low-mv', toMilli(limits.busLowVolt)),
    field('bus-high-mv', toMilli(limits.busHighVolt)),
    field('speed-mrad-s', toMilli(limits.speedRadPerSec)),
    field('stall-ms', toMilli(limits.stallSec)),
    field('stall-mrad-s', toMilli(limits.stallRadPerSec)),
    field('duration-ms', toMilli(limits.longestDriveSec)),
    field('watchdog-ms', toMilli(limits.watchdogSec)),
    field('current-trip-us', Math.round(limits.currentTripSec * 1e6)),
    field('command-trip-us', Math.round(limits.commandTripSec * 1e6)),
    field('reverse', limits.reversible),
    field('pwm-hz', limits.pwmHz ?? 0),
    field('burst-period-ns', limits.burst?.periodNs ?? 0),
    field('burst-samples', limits.burst?.samples ?? 0),
  ].join(' ')
}

function readStatus(fields: Fields): RigStatus {
  const code = fields.word('trip', ['none', ...TRIP_CAUSES])
  return {
    armed: fields.flag('armed'),
    bridge: fields.word('bridge', BRIDGE_MODES),
    setVolt: milli(fields, 'set-mv', -1e6, 1e6),
    streaming: fields.flag('streaming'),
    busVolt: milli(fields, 'bus-mv', -1e6, 1e6),
    trips: fields.integer('trips', 0, U32),
    badLines: fields.integer('bad-lines', 0, U32),
    lastTrip: code === 'none' ? null : code,
    lastTripTimeUs: fields.integer('trip-time-us', 0, U32),
    boardCelsius: fields.optional('board-c', key => fields.decimal(key, -273.15, 1000), null),
  }
}

function writeStatus(status: RigStatus): string {
  const parts = [
    field('armed', status.armed),
    field('bridge', status.bridge),
    field('set-mv', toMilli(status.setVolt)),
    field('streaming', status.streaming),
    field('bus-mv', toMilli(status.busVolt)),
    field('trips', status.trips),
    field('bad-lines', status.badLines),
    field('trip', status.lastTrip ?? 'none'),
    field('trip-time-us', status.lastTripTimeUs),
  ]
  if (status.boardCelsius !== null) parts.push(field('board-c', decimalText(status.boardCelsius)))
  return parts.join(' ')
}
